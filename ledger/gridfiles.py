"""Where a geoid grid that a record names by its digest lies now."""

from __future__ import annotations

import os
from pathlib import Path

from ledger.errors import SwathbookError
from ledger.fixity import read_fixity
from ledger.store.reading import Book


def find_grid_file(book: Book, sha256: str, seen_at: str = "") -> Path | None:
    """Return a file with the bytes of a grid; a changed one is another grid.

    Args:
        book: an open book.
        sha256: digest of the grid.
        seen_at: where it was last seen, as the book writes paths; empty for unknown.

    Returns:
        Its absolute path; None where no file with these bytes is at hand.
    """
    paths = [use.file.path for use in book.uses(sha256)]
    for stored in dict.fromkeys([seen_at, *paths]):
        path = Path(os.path.abspath(book.folder / stored))  # noqa: PTH100 - links stay links
        if stored and path.is_file() and _has_bytes(path, sha256):
            return path
    return None


def _has_bytes(path: Path, sha256: str) -> bool:
    try:
        return read_fixity(path).sha256 == sha256
    except SwathbookError:
        return False
