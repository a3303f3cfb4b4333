"""How the latest audits stand, given the bytes that were read."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from ledger.audited import AuditedFolder
from ledger.recheck.states import CheckedFile, FileState
from ledger.standing import FileChanges, Standing, judge
from ledger.store.reading import Book

_UNSEEN = (FileState.NOT_CONNECTED, FileState.UNREADABLE)


def find_standing(
    book: Book, audits: Iterable[AuditedFolder], files: Iterable[CheckedFile]
) -> tuple[Standing, ...]:
    """Return how each audited folder stands, given what was found of its files."""
    by_path = {file.path: file for file in files}
    return tuple(judge(book, audit, _compare(audit, by_path)) for audit in audits)


def _compare(audit: AuditedFolder, by_path: Mapping[str, CheckedFile]) -> FileChanges:
    changed, missing, unread, unseen = [], [], [], []
    for name, audited in sorted(audit.files.items()):
        file = by_path.get(audited.path)
        if not audited.sha256:
            unread.append(name)
        elif file is None or file.state in _UNSEEN:
            unseen.append(name)
        elif file.state is FileState.MISSING:
            missing.append(name)
        elif file.found != audited.sha256:
            changed.append(name)
    return FileChanges(
        changed=tuple(changed),
        missing=tuple(missing),
        added=audit.added if audit.is_listable else (),
        unread=tuple(unread),
        unseen=(*unseen, *(() if audit.is_listable else (audit.folder,))),
    )
