"""Files that a command only copied: what made them is the run that wrote them first.

Recorded as made by the command, a tile of a rejected run would get a second, better past. A
program that runs again and writes the same bytes is no copy: a copy is told by the command line,
which names the file, or its folder, where those bytes lay before.
"""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from ledger.jobfolder import find_places
from ledger.model.artefact import FileRecord
from ledger.model.ask import Progress
from ledger.model.filename import make_book_path
from ledger.outputs import find_explained_sizes
from ledger.record.candidates import hash_all
from ledger.store.reading import Book


def find_copied(
    book: Book, written: Sequence[Path], words: Sequence[str], progress: Progress
) -> tuple[FileRecord, ...]:
    """Return what is known of the files that a command wrote, where it only copied them all.

    Args:
        book: an open book.
        written: absolute paths of the files that it wrote.
        words: the command and its arguments, as typed in the working folder.
        progress: is told the bytes read.

    Returns:
        A record of each file at its new place; nothing where one of them is no copy.

    Raises:
        FaultsError: a file cannot be read.
    """
    sizes = find_explained_sizes(book)
    if not written or any(path.stat().st_size not in sizes for path in written):
        return ()
    named = _list_named(words, find_places(book.folder).out)
    copied: list[FileRecord] = []
    for path, fixity in hash_all(written, progress).items():
        origin = _find_origin(book, fixity.sha256, path, named)
        if origin is None:
            return ()
        stored, raw = make_book_path(path, book.folder)
        copied.append(
            replace(
                origin,
                path=stored,
                path_bytes=raw,
                bytes=fixity.bytes,
                mtime_ns=fixity.mtime_ns,
            )
        )
    return tuple(copied)


def _list_named(words: Sequence[str], out: Path) -> tuple[Path, ...]:
    """Return the files and folders that the words name; the folder of all outputs says nothing."""
    found = (Path(os.path.abspath(word)) for word in words[1:] if word)  # noqa: PTH100 - links stay
    return tuple(path for path in found if path != out and os.path.lexists(path))


def _find_origin(book: Book, sha256: str, path: Path, named: Sequence[Path]) -> FileRecord | None:
    """Return the output of a run or step with these bytes that lay at a place that was named."""
    for use in book.uses(sha256):
        place = book.folder / use.file.path
        if use.relation != "output" or place == path:
            continue
        if any(place == each or each in place.parents for each in named):
            return use.file
    return None
