"""How a file stands against what the book recorded of it."""

from __future__ import annotations

from enum import StrEnum


class FileState(StrEnum):
    """How a file stands against what the book recorded of it."""

    AS_RECORDED = "as recorded"
    CHANGED = "changed"
    HEADER_CHANGED = "points unchanged, header changed"
    MISSING = "missing"
    NOT_CONNECTED = "volume not connected"
    CARD_CLEARED = "card cleared"
    UNREADABLE = "cannot be read"
    UNKNOWN = "not in the book"


WRONG = frozenset(
    {FileState.CHANGED, FileState.HEADER_CHANGED, FileState.MISSING, FileState.UNREADABLE}
)
"""States in which something has happened to a file that the book recorded."""
