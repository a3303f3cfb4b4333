"""Is the book unbroken, and are the files still what it recorded?

Invariants:

- Every byte is read again; size and time alone are never taken for an answer.
- A drive that is not connected is not a missing file.
- A result is entered only into an unbroken book; where it could not be entered, that is said.
- A seal in the job's folder that the book does not fit is told, whether it was named or not.
- Derived tables that do not fit an unbroken book are made anew before anything is added to it.

Points are read only through a function that the caller hands in, and only of a changed file whose
fingerprint the book holds.
"""

from __future__ import annotations

import os
import sqlite3
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

from ledger.audited import list_audited_folders
from ledger.canonical import compute_digest, encode
from ledger.copies import find_copies
from ledger.dataclass import dataclass
from ledger.errors import BookError, BrokenBookError, SwathbookError
from ledger.model.artefact import FileRecord
from ledger.model.ask import NoProgress, Progress
from ledger.model.entry import Draft, Kind
from ledger.model.filename import make_book_path
from ledger.recheck.against import SealAnswer, hold_against
from ledger.recheck.comparison import ReadFingerprint, compare_files
from ledger.recheck.expected import is_below, list_expected, select
from ledger.recheck.rawcopies import judge_copies
from ledger.recheck.standing import find_standing
from ledger.recheck.states import CheckedFile, CopiesAnswer, FileState, RecheckResult
from ledger.rechecked import drop_broken_note, keep_broken_note
from ledger.sealed import find_unfit_seals, read_last_seal
from ledger.sighting import draft_moved, draft_sighting
from ledger.stamped import Stamp, read_stamps
from ledger.standing import Standing
from ledger.store.checking import BookState
from ledger.store.reading import Book, find_book
from ledger.store.writing import Addition, BookWriter
from ledger.volumes import Volume

__all__ = ["CheckedFile", "CopiesAnswer", "FileState", "RecheckResult", "SealAnswer", "recheck"]

_SILENT = NoProgress()
_NO_FILES = "; what it recorded of files cannot be read, so none was looked at"
_UNBROKEN, _BROKEN = "unbroken", "broken"
_OTHER_BOOK = "the book is not the one that was sealed"


def recheck(  # noqa: PLR0913 - one for each option of the command
    job: Path,
    paths: Sequence[Path] = (),
    *,
    book_only: bool = False,
    all_files: bool = False,
    against: Sequence[str] = (),
    keys: Sequence[str] = (),
    read_fingerprint: ReadFingerprint | None = None,
    progress: Progress = _SILENT,
    by: str = "technician",
) -> RecheckResult:
    """Check the book, then every file that it recorded, or those at and below `paths`.

    Args:
        job: the job folder, or any folder below it.
        paths: files and folders to look at; all that is recorded when none is named.
        book_only: look at the book alone.
        all_files: list every file, those as recorded too.
        against: seals to hold the book against: names of files, or roots as they are printed.
        keys: public keys that the user trusts, as lines or names of files.
        read_fingerprint: reads the points of a file; None to leave a changed file at that.
        progress: told the bytes read.
        by: function of the person who asks.

    Raises:
        NoBookError: there is no book.
        BookError: the file cannot be opened as a book at all; a damaged one is a result.
        UsageError: nothing is recorded at one of the paths, or a seal is neither file nor root.
        MalformedFileError: a file named as a seal or key is none.
    """
    path = find_book(job)
    try:
        opened = Book.open(path)
    except BrokenBookError as error:
        return _report_damage(path.parent, error, book_only=book_only)
    with opened as book:
        state = book.check(progress)
        held = (*against, *_list_unfit_seals(book, state, against))
        seals = hold_against(book, state, held, keys) if held else ()
        stamps = _read_stamps(book) if against else ()
        looked = _Looked()
        if not book_only:
            looked = _look(book, state, paths, read_fingerprint, progress)
    result = RecheckResult(
        book=_UNBROKEN if state.unbroken else _BROKEN,
        first_broken_entry=state.first_broken_entry,
        book_sentence=state.sentence + looked.kept_from,
        counts=_count(looked.files),
        files=looked.files,
        audits=looked.audits,
        book_only=book_only,
        bytes=looked.bytes,
        all_files=all_files,
        copies=looked.copies,
        seals=seals,
        retention=looked.retention,
        stamps=stamps,
    )
    return _enter(path.parent, result, paths, by, mend=bool(state.derived_difference))


def _list_unfit_seals(book: Book, state: BookState, against: Sequence[str]) -> tuple[str, ...]:
    """Return the seals in the job's folder that an unbroken book does not fit, asked for or not."""
    if not state.unbroken:
        return ()
    named = {Path(each).resolve() for each in against if Path(each).is_file()}
    unfit = (path for path, _ in find_unfit_seals(book))
    return tuple(str(path) for path in unfit if path.resolve() not in named)


def _read_stamps(book: Book) -> tuple[Stamp, ...]:
    """Return the time stamps of a book; of one too broken to tell, none."""
    try:
        return read_stamps(book)
    except SwathbookError:
        return ()


def _report_damage(folder: Path, error: BrokenBookError, *, book_only: bool) -> RecheckResult:
    """Return the result for a book whose file is damaged before its first row can be read."""
    fault = error.faults[0]
    sentence = f"{fault.what}: {fault.found}; {fault.remedy}"
    result = RecheckResult(_BROKEN, None, sentence, {}, (), (), book_only=book_only)
    return _enter(folder, result, [], "", mend=False)


@dataclass(frozen=True)
class _Looked:
    """What was found of files, or why none was looked at."""

    files: tuple[CheckedFile, ...] = ()
    audits: tuple[Standing, ...] = ()
    bytes: int = 0
    copies: CopiesAnswer | None = None
    retention: str = ""
    kept_from: str = ""


def _look(
    book: Book,
    state: BookState,
    paths: Sequence[Path],
    read_fingerprint: ReadFingerprint | None,
    progress: Progress,
) -> _Looked:
    """Look at files, as far as a broken book still says which."""
    try:
        return _check_files(book, paths, read_fingerprint, progress)
    except BookError:
        if state.unbroken:
            raise
        return _Looked(kept_from=_NO_FILES)


def _check_files(
    book: Book, paths: Sequence[Path], read_fingerprint: ReadFingerprint | None, progress: Progress
) -> _Looked:
    audits = list_audited_folders(book)
    chosen = list_expected(book, audits)
    if paths:
        chosen = select(book, chosen, paths)
        audits = tuple(
            audit
            for audit in audits
            if any(is_below(book.folder / audit.folder, each) for each in _list_whole(paths))
        )
    compared = compare_files(book, chosen, read_fingerprint, progress)
    copies, files = judge_copies(find_copies(book), compared.files)
    standing = find_standing(book, audits, files)
    return _Looked(files, standing, compared.bytes, copies, _tell_retention(book))


def _tell_retention(book: Book) -> str:
    """Return until when a closed job is kept, or that this is over."""
    seal = read_last_seal(book)
    if seal is None or not seal.closes:
        return ""
    if seal.closes >= datetime.now(UTC).date().isoformat():
        return f"The job is closed, to be kept until {seal.closes}."
    return (
        f"The job was to be kept until {seal.closes}: its files may be deleted by whoever decides "
        'that; enter it afterwards with swathbook record deletion PATH --reason "…".'
    )


def _count(files: Iterable[CheckedFile]) -> dict[FileState, int]:
    counts = Counter(file.state for file in files)
    return {state: counts[state] for state in FileState if counts[state]}


def _name_scope(folder: Path, paths: Sequence[Path]) -> list[str]:
    """Return the paths that were looked at, as the book writes them; none for all."""
    return sorted({make_book_path(path, folder)[0] for path in _list_whole(paths)})


def _list_whole(paths: Iterable[Path]) -> list[Path]:
    """Return paths written out in full without following links, as the paths of files are."""
    return [Path(os.path.abspath(path)) for path in paths]  # noqa: PTH100


def _enter(
    folder: Path, result: RecheckResult, paths: Sequence[Path], by: str, *, mend: bool
) -> RecheckResult:
    """Enter the result, or say why it could not be; make derived tables that lie anew first."""
    if result.book == _BROKEN:
        keep_broken_note(folder, result.book_sentence)
        return replace(result, not_entered="a broken book takes no entries")
    wrong = next((seal for seal in result.seals if not seal.holds), None)
    if wrong is not None:  # on top of another history every entry would only hide it deeper
        why = "a seal is not genuine" if result.are_forged_alone else _OTHER_BOOK
        return replace(result, not_entered=why)
    drop_broken_note(folder)
    additions = [
        *_draft_sightings(result.files, by),
        _draft(result, _name_scope(folder, paths), by),
    ]
    try:
        with BookWriter.open(folder) as writer:
            if mend:
                writer.rebuild()
                result = replace(result, book_sentence=f"{result.book_sentence}; that is done now")
            *_, entry = writer.append_all(additions)
    except (SwathbookError, OSError, sqlite3.Error) as error:
        return replace(result, not_entered=" ".join(str(error).splitlines()))
    return replace(result, entry=entry.seq)


def _draft_sightings(files: Iterable[CheckedFile], by: str) -> Iterator[Addition]:
    """Yield an entry for each drive that was found connected elsewhere, and one for new times."""
    by_drive: dict[Volume | None, list[FileRecord]] = {}
    for file in files:
        if file.seen is not None:
            by_drive.setdefault(file.now_on if file.now_at else None, []).append(file.seen)
    for volume, seen in by_drive.items():
        yield draft_sighting(seen, by) if volume is None else draft_moved(seen, volume, by)


def _draft(result: RecheckResult, scope: list[str], by: str) -> Addition:
    listed = [
        {"path": file.path, "state": str(file.state)}
        | ({"covered": True} if file.is_covered else {})
        | ({"volume": file.drive} if file.drive else {})
        for file in result.files
        if file.state is not FileState.AS_RECORDED
    ]
    content = encode(listed)
    values = {
        "counts": {str(state): count for state, count in result.counts.items()},
        "book": result.book,
        "files": compute_digest(content),
        "paths": scope,
        "book_only": result.book_only,
    }
    if result.seals:
        values["seals"] = [{"size": seal.size, "state": str(seal.state)} for seal in result.seals]
    return Addition(Draft(Kind.RECHECK, values, by=by), (content,))
