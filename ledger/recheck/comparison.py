"""Each expected file against what lies there now."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace
from functools import cache
from pathlib import Path

from ledger.dataclass import dataclass
from ledger.errors import ChangedFileError, FileError, SwathbookError
from ledger.fixity import Fixity, read_many
from ledger.loading import load_part
from ledger.model.address import is_address
from ledger.model.artefact import FileRecord, FingerprintValue
from ledger.model.ask import Progress
from ledger.model.filename import make_book_path
from ledger.recheck.expected import Expected
from ledger.recheck.marking import mark_files
from ledger.recheck.states import CheckedFile, FileState
from ledger.store.reading import Book
from ledger.volumes import Volume, find_volume, is_connected, is_outside_job

ReadFingerprint = Callable[[Path], FingerprintValue | None]


@dataclass(frozen=True)
class Comparison:
    """What was found.

    Args:
        files: every file, sorted by path.
        bytes: bytes read.
    """

    files: tuple[CheckedFile, ...]
    bytes: int


def compare_files(
    book: Book,
    expected: Iterable[Expected],
    read_fingerprint: ReadFingerprint | None,
    progress: Progress,
) -> Comparison:
    """Read every file that is there, and say how each one stands.

    Args:
        book: an open book.
        expected: what should lie where.
        read_fingerprint: reads the points of a changed file; None to leave it at that.
        progress: told the bytes read.
    """
    connected = cache(is_connected)
    absent: list[tuple[Expected, Path | None]] = []
    present: list[tuple[Expected, Path, int]] = []
    for known in expected:
        is_away = known.on is None and not connected(find_volume(known.path))
        place = None if is_away else known.place
        size = _look(place) if place is not None else None
        if place is None or size is None:
            absent.append((known, place))
        else:
            present.append((known, place, size))
    cards = {known.root for known, _, size in present if known.on_card and _fits(known, size)}
    found = [
        _describe_absent(known, None if known.on_card and known.root not in cards else place)
        for known, place in absent
    ]
    progress.start("reading files", sum(size for _, _, size in present), "bytes")
    outcomes = read_many([place for _, place, _ in present], progress)
    read = 0
    for (known, place, _), (_, outcome) in zip(present, outcomes, strict=True):
        read += outcome.bytes if isinstance(outcome, Fixity) else 0
        state = _compare(book, known, place, outcome, read_fingerprint)
        found.append(_tell_drive(book, known, place, state))
    progress.finish()
    ordered = sorted(found, key=lambda file: (file.path, file.drive))
    return Comparison(mark_files(book, ordered), read)


def _tell_drive(book: Book, known: Expected, place: Path, file: CheckedFile) -> CheckedFile:
    """Note the drive, and where the file lies now when the drive is connected elsewhere."""
    if known.on is None:
        return file
    stored, raw = make_book_path(place, book.folder)
    if stored == known.path or not is_outside_job(stored):
        return replace(file, drive=known.drive, now_on=known.on, seen=None)
    seen = None
    if file.state is FileState.AS_RECORDED and known.record is not None:
        seen = replace(known.record, path=stored, path_bytes=raw)
    return replace(file, drive=known.drive, now_at=stored, now_on=known.on, seen=seen)


def _fits(known: Expected, size: int) -> bool:
    """Say whether what lies there may be what was recorded: then its card is in."""
    return known.record is not None and known.record.bytes == size


def _look(place: Path) -> int | None:
    """Return the size of what is there, None for nothing; 0 where the reader must say why."""
    try:
        return place.stat().st_size
    except (FileNotFoundError, NotADirectoryError):
        return None
    except (OSError, ValueError):
        return 0


def _describe_absent(known: Expected, place: Path | None) -> CheckedFile:
    """Return the state of what is not there; without a place its drive is not connected."""
    if place is None:
        volume = known.root or find_volume(known.path)
        return CheckedFile(
            path=known.path,
            state=FileState.NOT_CONNECTED,
            recorded=known.sha256,
            sentence=f"{known.path} lies {_tell_volume(known, volume)}.",
            drive=known.drive,
            now_on=Volume(known.drive, volume) if known.on is not None else None,
        )
    return CheckedFile(
        path=known.path,
        state=FileState.MISSING,
        recorded=known.sha256,
        audits=tuple(known.audited),
        sentence=f"{known.path} is missing.",
        drive=known.drive,
        now_on=known.on,
    )


def _tell_volume(known: Expected, volume: str) -> str:
    if is_address(volume):
        return f"in the store {volume}, which only an audit reads"
    return f"on {'a card at ' if known.on_card else ''}{volume}, which is not connected"


def _compare(
    book: Book,
    known: Expected,
    place: Path,
    outcome: Fixity | FileError,
    read_fingerprint: ReadFingerprint | None,
) -> CheckedFile:
    if isinstance(outcome, FileError):
        state = FileState.UNREADABLE
        if isinstance(outcome, ChangedFileError):
            state = FileState.CHANGED
        fault = outcome.faults[0]
        why = ": ".join(" ".join(part.split()) for part in (fault.what, fault.found) if part)
        return CheckedFile(known.path, state, known.sha256, sentence=f"{known.path} {why}.")
    digest = outcome.sha256
    if not known.sha256:
        return _look_up(book, known, outcome)
    lapsed = tuple(name for name, sha256 in known.audited.items() if sha256 not in ("", digest))
    if digest == known.sha256:
        seen = _see_again(book, known, place, outcome)
        return CheckedFile(
            known.path, FileState.AS_RECORDED, digest, digest, audits=lapsed, seen=seen
        )
    state, note = _compare_points(book, known, place, read_fingerprint)
    return CheckedFile(
        path=known.path,
        state=state,
        recorded=known.sha256,
        found=digest,
        found_bytes=outcome.bytes,
        audits=lapsed,
        sentence=_explain_change(known.path, note, lapsed),
    )


def _see_again(book: Book, known: Expected, place: Path, found: Fixity) -> FileRecord | None:
    """Return the record of a file that has its bytes and a time that the book has not seen."""
    if found.mtime_ns in known.times:
        return None
    record = known.record
    if record is None or record.sha256 != found.sha256:
        record = next((use.file for use in reversed(book.uses(found.sha256))), None)
    if record is None:
        return None
    raw = make_book_path(place, book.folder)[1]
    if known.record is not None:
        raw = known.record.path_bytes
    return replace(
        record, path=known.path, path_bytes=raw, bytes=found.bytes, mtime_ns=found.mtime_ns
    )


def _look_up(book: Book, known: Expected, found: Fixity) -> CheckedFile:
    """Say whether the bytes of a file under a new name are known: a file is its digest."""
    digest = found.sha256
    if book.uses(digest) and not known.audited:
        return CheckedFile(known.path, FileState.AS_RECORDED, digest, digest)
    sentence = f"{known.path} is not in the book, under this name or any other."
    if known.audited:
        sentence = f"{known.path} could not be read at the audit, so the book has no digest of it."
    return CheckedFile(
        known.path, FileState.UNKNOWN, "", digest, sentence=sentence, found_bytes=found.bytes
    )


def _compare_points(
    book: Book, known: Expected, place: Path, read_fingerprint: ReadFingerprint | None
) -> tuple[FileState, str]:
    """Return what became of a file with points, and what is to be said of them.

    Points finer than the lattice may have moved by less than a step of it: their header cannot be
    blamed for the other bytes.
    """
    before = book.fingerprint(known.sha256)
    if before is None or not before.full or read_fingerprint is None:
        return FileState.CHANGED, ""
    try:
        now = read_fingerprint(place)
    except SwathbookError:  # no points can be read from it any more: it has changed
        return FileState.CHANGED, ""
    if now is None or (now.version, now.count, now.full) != (
        before.version,
        before.count,
        before.full,
    ):
        return FileState.CHANGED, ""
    if before.rounded or now.rounded:
        note = "; its points are the same to a step of the lattice, finer is not seen"
        return FileState.CHANGED, note
    list_changes = load_part("ledger.recheck.headerchange", "list_header_changes")
    named: tuple[str, ...] = list_changes(book, known.sha256, place)
    what = f": {', '.join(named)}" if named else ""
    return FileState.HEADER_CHANGED, f"; its points are unchanged, its header is not{what}"


def _explain_change(path: str, note: str, lapsed: tuple[str, ...]) -> str:
    what = "has other bytes than the book recorded"
    if lapsed:
        what = f"is not the file that was audited in {', '.join(lapsed)}"
    return f"{path} {what}{note}."
