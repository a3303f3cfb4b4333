"""Files in the folder of outputs that no run or step explains, told without reading them.

A file is taken for the one that the book saw under its path when size and modification time are
the same. That finds new work; it is no evidence, and `recheck` reads the bytes.
"""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path

from ledger.errors import FileError
from ledger.model.artefact import POINT_SUFFIXES, RASTER_SUFFIXES, FileRecord
from ledger.model.filename import make_book_path
from ledger.store.reading import Book
from ledger.walk import list_files

_TRACED = (*POINT_SUFFIXES, *RASTER_SUFFIXES)
_EXPLAINED = frozenset({"output", "registered"})


@dataclass(frozen=True)
class Outputs:
    """Point and raster files of the folder of outputs.

    Args:
        known: made by a recorded run or step.
        unexplained: seen before, made by none.
        fresh: new, or changed since the book saw them.
        fault: why the folder could not be listed; empty when it could.
    """

    known: tuple[str, ...] = ()
    unexplained: tuple[str, ...] = ()
    fresh: tuple[str, ...] = ()
    fault: str = ""


def find_outputs(book: Book, folder: Path, seen: dict[str, FileRecord]) -> Outputs:
    """Sort the point and raster files of a folder.

    Args:
        book: an open book.
        folder: the folder of outputs; it may be absent.
        seen: the latest record of every path in the book.
    """
    if not os.path.isdir(folder):
        return Outputs()
    try:
        paths = [path for path in list_files([folder]) if path.suffix.lower() in _TRACED]
    except FileError as error:
        return Outputs(fault=error.faults[0].sentence())
    known, unexplained, fresh = [], [], []
    for path in paths:
        name, _ = make_book_path(path, book.folder)
        record = seen.get(name)
        if record is None or not is_untouched(path, record.bytes, record.mtime_ns):
            fresh.append(name)
        elif any(use.relation in _EXPLAINED for use in book.uses(record.sha256)):
            known.append(name)
        else:
            unexplained.append(name)
    return Outputs(tuple(known), tuple(unexplained), tuple(fresh))


def is_untouched(path: Path, size: int, mtime_ns: int) -> bool:
    """Say whether a file has the size and modification time that were noted; 0 for not noted."""
    try:
        found = path.stat()
    except (OSError, ValueError):
        return False
    return found.st_size == size and mtime_ns in (0, found.st_mtime_ns)
