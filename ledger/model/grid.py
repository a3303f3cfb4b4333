"""What the head of a raster says."""

from __future__ import annotations

from ledger.dataclass import dataclass


@dataclass(frozen=True)
class GridFacts:
    """What the tags of a raster say.

    Args:
        columns: pixels across.
        rows: pixels down.
        sample_type: `float32`.
        west: least coordinate across, as text, in the raster's own unit; empty when not stated.
        south: least coordinate down.
        east: greatest coordinate across.
        north: greatest coordinate down.
        step_x: pixel width, as text.
        step_y: pixel height, as text.
        horizontal: `EPSG:4326`; empty when not stated.
        vertical: `EPSG:5773`, of a geoid grid that of the heights it leads to; empty when not
            stated.
        nodata: as written; empty when not stated.
        description: what the file says of itself in words, its first line; empty when nothing.
        is_geoid: whether the file says that it holds geoid heights.
    """

    columns: int
    rows: int
    sample_type: str
    west: str = ""
    south: str = ""
    east: str = ""
    north: str = ""
    step_x: str = ""
    step_y: str = ""
    horizontal: str = ""
    vertical: str = ""
    nodata: str = ""
    description: str = ""
    is_geoid: bool = False
