"""What of a header changed where the points did not: told from what the book kept of the old one.

The book keeps what a header says, not its bytes. A record or a remark that no fact tells of can be
altered without showing here, and then nothing is said of what.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from ledger.content import read_facts
from ledger.lasfacts import CRS_DIGEST
from ledger.store.reading import Book

_WORDS = {
    "crs": "CRS text",
    CRS_DIGEST: "CRS text",
    "version": "version",
    "point_format": "point format",
    "compressed": "compression",
    "copc": "compression",
    "software": "software",
    "system": "system",
    "created": "day of creation",
    "scale": "scale",
    "offset": "offset",
    "minimum": "box",
    "maximum": "box",
    "points": "number of points",
    "time": "kind of GPS time",
}


def list_header_changes(book: Book, sha256: str, place: Path) -> tuple[str, ...]:
    """Return what a header says now and did not, in words; empty where that cannot be told.

    Args:
        book: an open book.
        sha256: digest of the file as it was.
        place: where it lies now, with other bytes.
    """
    before = next((use.file.facts for use in book.uses(sha256) if use.file.facts), None)
    if before is None:
        return ()
    return compare_facts(before, read_facts(place).values)


def compare_facts(before: Mapping[str, Any], now: Mapping[str, Any]) -> tuple[str, ...]:
    """Return in words which facts differ.

    A book of an older version kept no digest of the text of a coordinate system; that it is absent
    there is no change.
    """
    keys = [key for key in _WORDS if key != CRS_DIGEST or key in before or "crs" not in before]
    named = (_WORDS[key] for key in keys if before.get(key) != now.get(key))
    return tuple(dict.fromkeys(named))
