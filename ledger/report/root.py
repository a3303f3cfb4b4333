"""A root as it is printed: groups of four digits, to be read over a telephone."""

from __future__ import annotations

from ledger.sealed import format_root

_GROUPS_A_LINE = 8


def list_root_lines(root: bytes) -> list[str]:
    """Return a root of 32 bytes in groups of four digits, eight groups a line."""
    groups = format_root(root).split(" ")
    return [
        " ".join(groups[place : place + _GROUPS_A_LINE])
        for place in range(0, len(groups), _GROUPS_A_LINE)
    ]
