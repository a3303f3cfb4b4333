"""What is wrong now: the book, `job.toml`, files as the last recheck of each found them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from pathlib import Path

from ledger.audited import AuditedFolder, has_left_delivery, list_audited_folders
from ledger.driveplaces import read_drive_places
from ledger.errors import SpecificationError
from ledger.jobfolder import SPECIFICATION_NAME, is_unread
from ledger.loading import load_part
from ledger.model.artefact import FileRecord
from ledger.model.filestate import WRONG
from ledger.model.lineage import describe_day
from ledger.model.nextstep import NextStep
from ledger.model.phrases import count_things
from ledger.model.typed import quote_path
from ledger.rechecked import LastLook, PastRecheck, find_last_look, read_broken_note
from ledger.status.lines import StatusLine
from ledger.store.reading import Book

_NAMED = 3


def describe_alarms(
    book: Book, rechecks: Sequence[PastRecheck], seen: Mapping[str, FileRecord]
) -> tuple[StatusLine, ...]:
    """Return what is wrong, a broken book first; nothing when nothing is.

    Args:
        book: an open book.
        rechecks: all rechecks, newest first.
        seen: the latest record of every path in the book.
    """
    lines = []
    note = read_broken_note(book.folder)
    if note is not None:
        sentence = f"The book is broken, found on {describe_day(note.time)}: {note.sentence}."
        step = NextStep("swathbook recheck --book-only", "then go on with the last good copy of it")
        lines.append(StatusLine("alarm", sentence, step, is_alarm=True))
    if is_unread(book.folder):
        lines.append(_describe_specification(book.folder))
    wrong = _find_wrong(book, rechecks, seen)
    if wrong:
        lines.append(_describe_files(wrong))
    return tuple(lines)


def _describe_specification(job: Path) -> StatusLine:
    """Return why `job.toml` cannot be read; its reader is loaded for that alone."""
    told = "it cannot be read"
    try:
        load_part("ledger.specfile.reading", "read_specification")(job / SPECIFICATION_NAME)
    except SpecificationError as error:
        told = str(error)
    step = NextStep("swathbook", f"once {SPECIFICATION_NAME} is put right")
    return StatusLine("alarm", f"{told}.", step, is_alarm=True)


def _find_wrong(
    book: Book, rechecks: Sequence[PastRecheck], seen: Mapping[str, FileRecord]
) -> dict[str, LastLook]:
    """Return the files that were wrong when last looked at, and not settled since."""
    found = {}
    audits = list_audited_folders(book) if rechecks else ()
    for path, drive in sorted({spot for past in rechecks for spot in past.states}):
        look = find_last_look(rechecks, path, drive)
        if look is None or look.state not in WRONG or look.is_covered:
            continue
        record = seen.get(path)
        if drive:
            settled = _is_settled_on_drive(book, path, drive, look)
        else:
            settled = record is not None and _is_settled(book, record, look, audits)
        if not settled:
            found[path] = look
    return found


def _is_settled_on_drive(book: Book, path: str, drive: str, look: LastLook) -> bool:
    """Say whether the place on a drive was seen again since, here or under another letter."""
    places = [place for place in read_drive_places(book) if place.volume == drive]
    here = [place.entry for place in places if place.file.path == path]
    return not here or max(here) > look.entry.seq


def _is_settled(
    book: Book, record: FileRecord, look: LastLook, audits: Sequence[AuditedFolder]
) -> bool:
    """Say whether bytes were entered under the path since, or a delivery goes on without it."""
    uses = [use.entry for use in book.uses(record.sha256) if use.file.path == record.path]
    return max(uses, default=0) > look.entry.seq or has_left_delivery(book, record, audits)


def _describe_files(wrong: Mapping[str, LastLook]) -> StatusLine:
    counts = Counter(look.state for look in wrong.values())
    states = ", ".join(f"{count_things(n, 'file')} {state}" for state, n in counts.items())
    some = ", ".join([*wrong][:_NAMED]) + (", …" if len(wrong) > _NAMED else "")
    latest = max(look.entry.time for look in wrong.values())
    command = "swathbook recheck"
    if len(wrong) <= _NAMED:
        command = " ".join([command, *map(quote_path, wrong)])
    return StatusLine(
        "alarm",
        f"The recheck of {describe_day(latest)} found {states}: {some}.",
        NextStep(command, "once the good bytes are back in place"),
        is_alarm=True,
    )


def describe_last_recheck(rechecks: Sequence[PastRecheck]) -> StatusLine | None:
    """Return when the files were last read; None when they never were."""
    looks = [past for past in rechecks if past.scope is not None]
    if not looks:
        return None
    last = looks[0]
    what = "everything recorded" if not last.scope else ", ".join(last.scope[:_NAMED])
    wrong = sum(state in WRONG for state in last.states.values())
    found = "as recorded" if not wrong else f"{count_things(wrong, 'file')} not as recorded"
    return StatusLine("last recheck", f"{describe_day(last.entry.time)}, of {what}: {found}.")
