"""The text of WKT, taken apart where a library loses a part of it.

Sources: OGC 01-009 (the 2001 dialect, which LAS 1.4 asks for) and ISO 19162 (WKT2).
"""

from __future__ import annotations

import re

# First words that only the second version has.
_SECOND_VERSION = re.compile(
    r"^\s*(GEODCRS|GEOGCRS|GEODETICCRS|GEOGRAPHICCRS|PROJCRS|PROJECTEDCRS|VERTCRS|VERTICALCRS|"
    r"COMPOUNDCRS|ENGCRS|ENGINEERINGCRS|BOUNDCRS|DERIVEDPROJCRS)\s*[\[(]",
    re.IGNORECASE,
)
_VERTICAL = re.compile(r"\b(VERT_CS|VERTCS|VERTCRS)\s*\[", re.IGNORECASE)
_MEMBER = re.compile(r'MEMBER\s*\[\s*"([^"]*)"', re.IGNORECASE)


def find_dialect(text: str) -> str:
    """Return `WKT2` or `WKT1`, by the first word."""
    return "WKT2" if _SECOND_VERSION.match(text) else "WKT1"


def find_vertical_element(text: str) -> str | None:
    """Return the vertical system written anywhere inside the text, None when there is none.

    In the 2001 dialect it belongs beside the horizontal one, inside `COMPD_CS`; some writers nest
    it inside `PROJCS`, where libraries pass over it. The nested form is spelt `VERTCS` with parts
    of the other spelling, so the spelling is mended.
    """
    match = _VERTICAL.search(_blank_quoted(text))
    if match is None:
        return None
    element = text[match.start() : _find_end(text, match.end())]
    if match.group(1).upper() == "VERTCS" and "VERT_DATUM" in element:
        element = "VERT_CS" + element[len("VERTCS") :]
    return element


def list_ensemble_members(text: str) -> tuple[str, ...]:
    """Return the names of the members of a datum ensemble, in WKT2."""
    return tuple(_MEMBER.findall(text))


def _blank_quoted(text: str) -> str:
    """Return the text with quoted names blanked, so that no name is taken for a keyword."""
    return re.sub(r'"[^"]*"', lambda quoted: " " * len(quoted.group()), text)


def _find_end(text: str, start: int) -> int:
    """Return the position after the bracket that closes the one before `start`."""
    depth = 1
    for position, letter in enumerate(_blank_quoted(text[start:]), start):
        depth += {"[": 1, "]": -1}.get(letter, 0)
        if depth == 0:
            return position + 1
    return len(text)
