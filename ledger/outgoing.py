"""Where a file that a person names may be written: never over, or among, what the book answers for.

Invariants:

- Nothing is written into the raw folder of the job at hand or of a job that the path leads into,
  into an audited folder, or over a recorded file, whichever way the path leads there.
- A file that is there already is not written over.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path

from ledger.audited import list_audited_folders
from ledger.errors import NoBookError, UsageError
from ledger.jobfolder import find_job, find_places
from ledger.model.filename import find_path
from ledger.store.reading import Book


def require_new_beside(job: Path | None, path: Path) -> None:
    """Refuse a file as `require_new` does, where there may be no job at hand.

    Args:
        job: the job folder; None outside of any.
        path: what is to be written.

    Raises:
        UsageError: it lies among raw or delivered files, or there is something of that name.
        BookError: the book cannot be read.
    """
    if job is None:
        require_outside_raw(path, None)
        _require_absent(path)
        return
    with Book.open(job) as book:
        require_new(book, path)


def require_new(book: Book, path: Path) -> None:
    """Refuse a file that must not be written, or that is there already.

    Raises:
        UsageError: it lies among raw or delivered files, or there is something of that name.
        BookError: the book cannot be read.
    """
    require_apart(book, path)
    _require_absent(path)


def _require_absent(path: Path) -> None:
    if os.path.lexists(path):
        raise UsageError(
            "a file lies there already, and is not written over",
            where=str(path),
            remedy="name another one",
        )


def require_apart(book: Book, path: Path) -> None:
    """Refuse a file or folder among raw or delivered files, or in the place of a recorded file.

    Raises:
        UsageError: it lies there.
        BookError: the book cannot be read.
    """
    require_outside_raw(path, book.folder)
    place = _write_out(path)
    for audit in list_audited_folders(book):
        _require_outside(path, audit.place, "files of a delivery")
    if any(
        place == _write_out(find_path(f.path, f.path_bytes, book.folder))
        for f in book.files_last_seen()
    ):
        raise UsageError(
            "the book has recorded this file, and it is not written over",
            where=str(path),
            remedy="name another one",
        )


def require_outside_raw(path: Path, job: Path | None) -> None:
    """Refuse a file or folder among raw data.

    Args:
        path: what is to be written, there or not.
        job: the job at hand; None outside of any. A job that the path itself leads into is asked
            as well.

    Raises:
        UsageError: it lies there.
    """
    for each in _list_jobs(path, job):
        _require_outside(path, find_places(each).raw, "raw data")


def _list_jobs(path: Path, job: Path | None) -> Iterator[Path]:
    if job is not None:
        yield job
    for named in (path, _write_out(path)):
        with suppress(NoBookError):
            yield find_job(named.parent)


def _require_outside(path: Path, folder: Path, what: str) -> None:
    if is_inside(path, folder):
        raise UsageError(
            f"nothing is written among the {what}", where=str(path), remedy="name another folder"
        )


def is_inside(path: Path, folder: Path) -> bool:
    """Say whether a path is a folder or leads into it, links followed; neither has to be there."""
    return _write_out(path).is_relative_to(_write_out(folder))


def _write_out(path: Path) -> Path:
    """Return a path with links followed, as this system compares names."""
    return Path(os.path.normcase(os.path.realpath(path)))
