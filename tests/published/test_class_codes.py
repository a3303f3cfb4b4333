"""The class codes of the LAS standard, each with its meaning, by point format.

Source: ASPRS LAS 1.4 R15, table 9 (formats 0 to 5) and table 17 (formats 6 to 10).
Known: read.
"""

from __future__ import annotations

import pytest

from lidar_checks.cloud.class_codes import is_reserved, name_code

# Words that the meaning of a code has to hold, in both tables, in the older one, in the newer one.
BOTH = {
    0: "never classified",
    1: "unclassified",
    2: "ground",
    3: "low vegetation",
    4: "medium vegetation",
    5: "high vegetation",
    6: "building",
    7: "low noise",
    9: "water",
}
OLDER = BOTH | {8: "model key-point", 12: "overlap"}
NEWER = BOTH | {
    10: "rail",
    11: "road surface",
    13: "wire, guard",
    14: "wire, conductor",
    15: "transmission tower",
    16: "wire-structure connector",
    17: "bridge deck",
    18: "high noise",
    19: "overhead structure",
    20: "ignored ground",
    21: "snow",
    22: "temporal exclusion",
}


@pytest.mark.parametrize("point_format", range(11))
def test_every_code_has_its_published_meaning(point_format: int) -> None:
    """A code has the meaning of the table for its point format; what no table has is reserved."""
    table = NEWER if point_format >= 6 else OLDER
    for code in range(256 if point_format >= 6 else 32):
        reserved = code not in table and code < 64
        assert is_reserved(code, point_format) is reserved
        meaning = "user's own" if code >= 64 else table.get(code, "reserved")
        assert name_code(code, point_format) == f"{code} ({meaning})"
