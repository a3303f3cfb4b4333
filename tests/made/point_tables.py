"""Tables of surveyed points, a job that they fit, and the words that record them."""

from __future__ import annotations

DECLARED = "# coordinate system: EPSG:6346; heights: orthometric, GEOID18; unit: metre\n"
ROWS = "C1,552031.12,4272044.34,214.1\nC2,552131.12,4272144.34,215.2\n"
PLAIN = "id,easting,northing,height\n" + ROWS
WISHES = b"""
[coordinates]
horizontal = "EPSG:6346"
vertical = "orthometric"
vertical_crs = "EPSG:5703"
unit = { horizontal = "metre", vertical = "metre" }
"""


def set_words(said: dict[str, str]) -> list[str]:
    """Return the words that set fields of a command."""
    return [word for key, value in said.items() for word in ("--set", f"{key}={value}")]
