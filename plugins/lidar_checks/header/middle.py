"""The middle of a delivery on Earth, by the boxes of its headers."""

from __future__ import annotations

import math

from ledger.contract.evidence import Evidence
from ledger.crs import to_lonlat
from ledger.errors import CrsError
from ledger.model.georeferencing import CrsKind
from lidar_checks.header.file_check import find_crs


def find_site(evidence: Evidence) -> tuple[float, float] | None:
    """Return longitude and latitude of the middle of the delivered points; None where unknown."""
    places = []
    for file in evidence.point_files:
        crs = find_crs(file) or evidence.specified_crs
        if file.header is None or crs is None:
            continue
        if crs.kind not in (CrsKind.PROJECTED, CrsKind.GEOGRAPHIC):
            continue
        low, high = file.header.minimum, file.header.maximum
        try:
            lonlat = to_lonlat(crs, (low[0] + high[0]) / 2, (low[1] + high[1]) / 2)
        except CrsError:
            continue
        places.append(lonlat)
    if not places:
        return None
    # The median, so that one file in a wrong place does not move the site.
    lon, lat = (sorted(axis)[len(axis) // 2] for axis in zip(*places, strict=True))
    return (lon, lat) if math.isfinite(lon) and math.isfinite(lat) else None
