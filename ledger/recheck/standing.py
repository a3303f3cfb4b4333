"""How the latest audits stand, given the bytes that were read."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from ledger.audited import AuditedFile, AuditedFolder
from ledger.auditentry import read_acceptances, read_audit
from ledger.model.verdict import Verdict
from ledger.recheck.states import CheckedFile, FileState
from ledger.standing import Standing, gather_changes, judge
from ledger.store.reading import Book

_UNSEEN = (FileState.NOT_CONNECTED, FileState.UNREADABLE)


def find_standing(
    book: Book, audits: Iterable[AuditedFolder], files: Iterable[CheckedFile]
) -> tuple[Standing, ...]:
    """Return how each audited folder stands, given what was found of its files."""
    by_path = {file.path: file for file in files}

    def look_at(audited: AuditedFile) -> str:
        return _compare(audited, by_path.get(audited.path))

    accepted = read_acceptances(book).keys()
    return tuple(
        replace(
            judge(book, audit, gather_changes(audit, look_at)),
            accepted_verdict=_find_verdict(book, audit, accepted),
        )
        for audit in audits
    )


def _find_verdict(book: Book, audit: AuditedFolder, accepted: Iterable[str]) -> str:
    """Return the verdict with what was accepted since."""
    if audit.entry.values["verdict"] != Verdict.ACCEPTANCE_NEEDED:
        return ""  # acceptances change no other
    return str(read_audit(book, audit.entry).compute_verdict(accepted))


def _compare(audited: AuditedFile, file: CheckedFile | None) -> str:
    if file is None or file.state in _UNSEEN:
        return "unseen"
    if file.state is FileState.MISSING:
        return "missing"
    return "same" if file.found == audited.sha256 else "changed"
