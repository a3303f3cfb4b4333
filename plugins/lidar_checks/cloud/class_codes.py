"""The codes of the LAS classification field.

Source: ASPRS LAS 1.4 R15, table 9 (point formats 0 to 5) and table 17 (formats 6 to 10).
"""

from __future__ import annotations

NEVER_CLASSIFIED = 0
UNCLASSIFIED = 1
GROUND = 2
BUILDING = 6
LOW_NOISE = 7
WATER = 9
OVERLAP = 12
HIGH_NOISE = 18

_COMMON = {
    NEVER_CLASSIFIED: "never classified",
    UNCLASSIFIED: "unclassified",
    GROUND: "ground",
    3: "low vegetation",
    4: "medium vegetation",
    5: "high vegetation",
    BUILDING: "building",
    LOW_NOISE: "low noise",
    WATER: "water",
}
_LEGACY = {**_COMMON, 8: "model key-point", OVERLAP: "overlap"}
_EXTENDED = {
    **_COMMON,
    10: "rail",
    11: "road surface",
    13: "wire, guard",
    14: "wire, conductor",
    15: "transmission tower",
    16: "wire-structure connector",
    17: "bridge deck",
    HIGH_NOISE: "high noise",
    19: "overhead structure",
    20: "ignored ground",
    21: "snow",
    22: "temporal exclusion",
}
_FIRST_EXTENDED_FORMAT = 6
_FIRST_USER_CODE = 64


def is_reserved(code: int, point_format: int) -> bool:
    """Say whether the table of the point format keeps this code for later editions."""
    if point_format < _FIRST_EXTENDED_FORMAT:
        return code not in _LEGACY
    return code not in _EXTENDED and code < _FIRST_USER_CODE


def name_code(code: int, point_format: int) -> str:
    """Return a code with its meaning in the table of the point format."""
    table = _LEGACY if point_format < _FIRST_EXTENDED_FORMAT else _EXTENDED
    if point_format >= _FIRST_EXTENDED_FORMAT and code >= _FIRST_USER_CODE:
        return f"{code} (user's own)"
    return f"{code} ({table.get(code, 'reserved')})"
