"""What a register could not read and no later one has met: it may hold data that nobody has.

Whatever a register leaves out stands in its entry. Links and pipes hold nothing themselves; a file
or folder that could not be read may, and keeps the card from being cleared until it was entered or
is gone.

Light: reads entries and their lists, and looks whether a path is there.
"""

from __future__ import annotations

import os
from collections.abc import Iterator, Mapping
from typing import Any

from ledger.canonical import decode
from ledger.model.entry import Kind
from ledger.model.filename import find_path
from ledger.store.reading import Book


def list_left_out(book: Book) -> tuple[str, ...]:
    """Return the paths, as the book writes them, that may hold data and were never entered."""
    found = dict.fromkeys(
        row["path"]
        for row in _list_rows(book)
        if row.get("may_hold_data")
        and not _is_entered(book, row["path"])
        and not _is_gone(book, row)
    )
    return tuple(sorted(found))


def _list_rows(book: Book) -> Iterator[Mapping[str, Any]]:
    for entry in book.entries(Kind.FILES, Kind.SIGHTING):
        if entry.values.get("left_out"):
            yield from decode(book.blob(entry.values["left_out"]))


def _is_entered(book: Book, path: str) -> bool:
    """Say whether a path, or one below it, was entered at any time."""
    return book.file_at(path) is not None or bool(book.owners_below(path))


def _is_gone(book: Book, row: Mapping[str, Any]) -> bool:
    """Say whether a path is there no more, in a folder that is."""
    place = find_path(row["path"], row["path_bytes"], book.folder)
    return os.path.isdir(place.parent) and not os.path.lexists(place)
