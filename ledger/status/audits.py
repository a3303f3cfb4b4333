"""The last audit, and whether it can still hold; told from sizes and times alone."""

from __future__ import annotations

import os

from ledger.audited import AuditedFolder, is_said_already, read_audited_folder
from ledger.auditentry import read_audit
from ledger.canonical import compute_digest
from ledger.errors import FileError
from ledger.jobfolder import SPECIFICATION_NAME
from ledger.model.entry import Entry, Kind
from ledger.model.finding import Grade
from ledger.model.lineage import describe_day
from ledger.model.phrases import count_things
from ledger.model.verdict import Verdict
from ledger.shortfile import read_short_file
from ledger.status.lines import StatusLine
from ledger.status.outputs import is_untouched
from ledger.store.reading import Book

_TOPIC = "last audit"


def describe_last_audit(book: Book) -> StatusLine:
    """Return verdict and standing of the last audit.

    Where that one was quick, a full audit of the same bytes says more.
    """
    entry = _find_telling_audit(book)
    if entry is None:
        return StatusLine(_TOPIC, "Nothing has been audited.", "swathbook audit FOLDER")
    folder = str(entry.values["folder"])
    again = f"swathbook audit {_quote(folder)}"
    verdict, accepted = _find_verdict(book, entry)
    quick = ", quick" if entry.values.get("quick") else ""
    said = (
        f"{entry.values['id']}, {folder}, {describe_day(entry.time)}{quick}: {verdict}{accepted}."
    )
    lapsed = [*_find_file_changes(read_audited_folder(book, entry)), *_find_new_wishes(book, entry)]
    if lapsed:
        return StatusLine(_TOPIC, f"{said} It holds no longer: {', '.join(lapsed)}.", again)
    said += " Every file still has the size and time that it had; recheck reads the bytes."
    return StatusLine(_TOPIC, said, "" if verdict == Verdict.FIT_TO_SEND else again)


def _find_telling_audit(book: Book) -> Entry | None:
    last = book.last(Kind.AUDIT)
    telling = last
    for entry in book.entries(Kind.AUDIT):
        if last is not None and is_said_already(last, entry):
            telling = entry
    return telling


def describe_blanks(book: Book) -> StatusLine | None:
    """Return what the blanks cost, as the last audit counted it; None before any audit."""
    entry = book.last(Kind.AUDIT)
    blanks = entry.values.get("blanks") if entry is not None else None
    if entry is None or not isinstance(blanks, list) or not blanks:
        return None
    checks = sorted({str(check) for blank in blanks for check in blank.get("checks", ())})
    fields = count_things(len(blanks), "value")
    cost = (
        f", which limits {count_things(len(checks), 'check')}: {', '.join(checks)}"
        if checks
        else ""
    )
    return StatusLine("blanks", f"{fields} blank at {entry.values['id']}{cost}.")


def _find_verdict(book: Book, entry: Entry) -> tuple[str, str]:
    """Return the verdict with the acceptances since, and how many of the minor findings have one.

    Findings are read only where an acceptance can change anything.
    """
    verdict = str(entry.values["verdict"])
    if verdict != Verdict.ACCEPTANCE_NEEDED:
        return verdict, ""
    audit = read_audit(book, entry)
    minor = {each.id for each in audit.findings if each.finding.grade is Grade.MINOR}
    accepted = minor & book.acceptances().keys()
    return str(audit.compute_verdict(accepted)), f", {len(accepted)} of {len(minor)} accepted"


def _find_file_changes(audit: AuditedFolder) -> list[str]:
    touched = gone = unread = 0
    for file in audit.files.values():
        if not file.sha256:
            unread += 1
        elif not os.path.isfile(file.place):
            gone += 1
        elif not is_untouched(file.place, file.bytes, file.mtime_ns):
            touched += 1
    added = len(audit.added) if audit.is_listable else 0
    return [
        f"{count_things(number, 'file')} {what}"
        for number, what in (
            (touched, "changed"),
            (gone, "gone"),
            (added, "added"),
            (unread, "could not be read"),
        )
        if number
    ]


def _find_new_wishes(book: Book, entry: Entry) -> list[str]:
    """Say whether `job.toml` is another one than was audited against."""
    try:
        content = read_short_file(book.folder / SPECIFICATION_NAME, SPECIFICATION_NAME)
    except FileError:
        return ["job.toml cannot be read"]
    digest = compute_digest(content)
    return ["job.toml changed"] if digest != entry.values["specification"] else []


def _quote(text: str) -> str:
    return f'"{text}"' if " " in text else text
