"""What the info record of a COPC file says of its octree."""

from __future__ import annotations

from ledger.dataclass import dataclass

COPC_USER = "copc"
INFO_RECORD = 1
HIERARCHY_RECORD = 1000


@dataclass(frozen=True)
class CopcInfo:
    """The octree of a COPC file, as its info record states it.

    Source of names and places: COPC 1.0, info VLR.

    Args:
        centre: X, Y, Z of the middle of the octree, file units.
        half_side: from the middle to any side, file units.
        spacing: between points at the root, file units.
        root_start: offset of the first page of the hierarchy, bytes.
        root_size: of that page, bytes.
        time_range: least and greatest GPS time.
        pages: first byte and end of each hierarchy record in the file.
    """

    centre: tuple[float, float, float]
    half_side: float
    spacing: float
    root_start: int
    root_size: int
    time_range: tuple[float, float]
    pages: tuple[tuple[int, int], ...]
