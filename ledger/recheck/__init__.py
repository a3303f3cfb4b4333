"""Is the book unbroken, and are the files still what it recorded?

Invariants:

- Every byte is read again; size and time alone are never taken for an answer.
- A drive that is not connected is not a missing file.
- A result is entered only into an unbroken book; where it could not be entered, that is said.
- Derived tables that do not fit an unbroken book are made anew before anything is added to it.

Points are read only through a function that the caller hands in, and only of a changed file whose
fingerprint the book holds.
"""

from __future__ import annotations

import sqlite3
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import replace
from pathlib import Path

from ledger.canonical import compute_digest, encode
from ledger.errors import BookError, SwathbookError
from ledger.model.ask import NoProgress, Progress
from ledger.model.entry import Draft, Kind
from ledger.recheck.comparison import ReadFingerprint, compare_files
from ledger.recheck.expected import is_below, list_audited_folders, list_expected, select
from ledger.recheck.standing import find_standing
from ledger.recheck.states import AuditStanding, CheckedFile, FileState, RecheckResult
from ledger.store.reading import Book, find_book
from ledger.store.writing import BookWriter

__all__ = [
    "AuditStanding",
    "CheckedFile",
    "FileState",
    "RecheckResult",
    "recheck",
]

_SILENT = NoProgress()
_UNBROKEN, _BROKEN = "unbroken", "broken"


def recheck(  # noqa: PLR0913 - one for each option of the command
    job: Path,
    paths: Sequence[Path] = (),
    *,
    book_only: bool = False,
    all_files: bool = False,
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
        read_fingerprint: reads the points of a file; None to leave a changed file at that.
        progress: told the bytes read.
        by: function of the person who asks.

    Raises:
        NoBookError: there is no book.
        BookError: the file cannot be opened as a book at all.
        UsageError: nothing is recorded at one of the paths.
    """
    with Book.open(find_book(job)) as book:
        state = book.check(progress)
        sentence = state.sentence
        files: tuple[CheckedFile, ...] = ()
        audits: tuple[AuditStanding, ...] = ()
        read = 0
        if not book_only:
            try:
                files, audits, read = _check_files(book, paths, read_fingerprint, progress)
            except BookError:
                if state.unbroken:
                    raise
                sentence += "; what it recorded of files cannot be read, so none was looked at"
        folder = book.folder
    result = RecheckResult(
        book=_UNBROKEN if state.unbroken else _BROKEN,
        first_broken_entry=state.first_broken_entry,
        book_sentence=sentence,
        counts=_count(files),
        files=files,
        audits=audits,
        book_only=book_only,
        bytes=read,
        all_files=all_files,
    )
    return _enter(folder, result, by, mend=bool(state.derived_difference))


def _check_files(
    book: Book, paths: Sequence[Path], read_fingerprint: ReadFingerprint | None, progress: Progress
) -> tuple[tuple[CheckedFile, ...], tuple[AuditStanding, ...], int]:
    audits = list_audited_folders(book)
    expected = list_expected(book, audits)
    chosen = list(expected.values())
    if paths:
        chosen = select(book, expected, paths)
        audits = tuple(
            audit
            for audit in audits
            if any(is_below(book.folder / audit.folder, path.absolute()) for path in paths)
        )
    compared = compare_files(book, chosen, read_fingerprint, progress)
    return compared.files, find_standing(audits, compared.files), compared.bytes


def _count(files: Iterable[CheckedFile]) -> dict[FileState, int]:
    counts = Counter(file.state for file in files)
    return {state: counts[state] for state in FileState if counts[state]}


def _enter(folder: Path, result: RecheckResult, by: str, *, mend: bool) -> RecheckResult:
    """Enter the result, or say why it could not be; make derived tables that lie anew first."""
    if result.book == _BROKEN:
        return replace(result, not_entered="a broken book takes no entries")
    listed = [
        {"path": file.path, "state": str(file.state)}
        for file in result.files
        if file.state is not FileState.AS_RECORDED
    ]
    content = encode(listed)
    values = {
        "counts": {str(state): count for state, count in result.counts.items()},
        "book": result.book,
        "files": compute_digest(content),
    }
    try:
        with BookWriter.open(folder) as writer:
            if mend:
                writer.rebuild()
                result = replace(result, book_sentence=f"{result.book_sentence}; that is done now")
            entry = writer.append(Draft(Kind.RECHECK, values, by=by), blobs=(content,))
    except (SwathbookError, OSError, sqlite3.Error) as error:
        return replace(result, not_entered=" ".join(str(error).splitlines()))
    return replace(result, entry=entry.seq)
