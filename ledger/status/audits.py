"""The last audit, and whether it can still hold; told from sizes and times alone."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from ledger.canonical import compute_digest
from ledger.errors import BookError, FileError
from ledger.jobfolder import SPECIFICATION_NAME
from ledger.model.artefact import FileRecord
from ledger.model.entry import Entry, Kind
from ledger.model.filename import find_path, make_book_path
from ledger.model.finding import Grade
from ledger.model.lineage import describe_day
from ledger.model.verdict import Verdict
from ledger.status.lines import StatusLine, count
from ledger.status.outputs import is_untouched
from ledger.store.reading import Book
from ledger.walk import list_files

_TOPIC = "last audit"


def describe_last_audit(book: Book, seen: dict[str, FileRecord]) -> StatusLine:
    """Return verdict and standing of the last audit.

    Args:
        book: an open book.
        seen: the latest record of every path in the book.
    """
    entry = book.last(Kind.AUDIT)
    if entry is None:
        return StatusLine(_TOPIC, "Nothing has been audited.", "swathbook audit FOLDER")
    folder = str(entry.values["folder"])
    again = f"swathbook audit {_quote(folder)}"
    head = f"{entry.values['id']}, {folder}, {describe_day(entry.time)}"
    verdict, accepted = _find_verdict(book, entry)
    said = f"{head}: {verdict}{accepted}."
    lapsed = [*_find_file_changes(book, entry, seen), *_find_other_changes(book, entry)]
    if lapsed:
        return StatusLine(_TOPIC, f"{said} It holds no longer: {', '.join(lapsed)}.", again)
    said += " Every file still has the size and time that it had; recheck reads the bytes."
    return StatusLine(_TOPIC, said, "" if verdict == Verdict.FIT_TO_SEND else again)


def describe_blanks(book: Book) -> StatusLine | None:
    """Return what the blanks cost, as the last audit counted it; None before any audit."""
    entry = book.last(Kind.AUDIT)
    blanks = entry.values.get("blanks") if entry is not None else None
    if entry is None or not isinstance(blanks, list) or not blanks:
        return None
    checks = sorted({str(check) for blank in blanks for check in blank.get("checks", ())})
    fields = count(len(blanks), "value")
    cost = f", which limits {count(len(checks), 'check')}: {', '.join(checks)}" if checks else ""
    return StatusLine("blanks", f"{fields} blank at {entry.values['id']}{cost}.")


def _find_verdict(book: Book, entry: Entry) -> tuple[str, str]:
    """Return the verdict with the acceptances since, and how many there are."""
    verdict = str(entry.values.get("verdict", ""))
    if verdict != Verdict.ACCEPTANCE_NEEDED:
        return verdict, ""
    try:
        findings: list[dict[str, Any]] = json.loads(book.blob(str(entry.values["findings"])))
    except BookError:
        return verdict, ""
    minor = {str(f.get("id", "")) for f in findings if f.get("grade") == Grade.MINOR}
    accepted = minor & book.acceptances().keys()
    if minor and accepted == minor:
        return str(Verdict.FIT_TO_SEND), f" with {count(len(accepted), 'accepted finding')}"
    return verdict, f" ({len(accepted)} of {len(minor)} findings accepted)"


def _find_file_changes(book: Book, entry: Entry, seen: dict[str, FileRecord]) -> list[str]:
    folder = str(entry.values["folder"])
    place = find_path(folder, "", book.folder)
    manifest = json.loads(book.blob(str(entry.values["manifest"])))
    names = {str(stored["path"]) for stored in manifest}
    touched = gone = 0
    for stored in manifest:
        name = stored["path"] if folder in ("", ".") else f"{folder}/{stored['path']}"
        record = seen.get(name)
        path = find_path(name, record.path_bytes if record else "", book.folder)
        same_bytes = record is not None and record.sha256 == stored["sha256"]
        noted = record.mtime_ns if record is not None and same_bytes else 0
        if not path.is_file():
            gone += 1
        elif not is_untouched(path, int(stored["bytes"]), noted):
            touched += 1
    added = _count_added(place, names)
    words = (
        f"{count(touched, 'file')} changed" if touched else "",
        f"{count(gone, 'file')} gone" if gone else "",
        f"{count(added, 'file')} added" if added else "",
    )
    return [word for word in words if word]


def _count_added(place: Path, names: set[str]) -> int:
    if not place.is_dir():
        return 0
    try:
        return sum(1 for path in list_files([place]) if make_book_path(path, place)[0] not in names)
    except FileError:
        return 0


def _find_other_changes(book: Book, entry: Entry) -> list[str]:
    try:
        digest = compute_digest((book.folder / SPECIFICATION_NAME).read_bytes())
    except OSError:
        digest = ""
    expected = entry.values.get("specification", "")
    return ["job.toml changed"] if digest and expected and digest != expected else []


def _quote(text: str) -> str:
    return f'"{text}"' if " " in text else text
