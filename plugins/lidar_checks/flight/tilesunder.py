"""Which files of a delivery lie under a part of a path."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from ledger.contract.check import Evidence
from ledger.model.phrases import count_things
from lidar_checks.flight.paths import Path, interpolate
from lidar_checks.header.file_check import find_crs

_NAMED = 6
_LOOK_S = 0.5


def list_tiles(
    evidence: Evidence, path: Path, spans: Iterable[tuple[float, float]], reach_m: float
) -> list[str]:
    """Return the point files whose box the path comes within some metres of, in some spans.

    Args:
        evidence: what is known.
        path: in the horizontal system of the job, metres.
        spans: begin and end, GPS seconds.
        reach_m: half the distance between lines: what each line is there for.
    """
    times = [np.arange(begin, end + _LOOK_S / 2, _LOOK_S) for begin, end in spans]
    if not times:
        return []
    east, north = interpolate(path, np.concatenate(times))
    known = np.isfinite(east) & np.isfinite(north)
    east, north = east[known], north[known]
    found = []
    for file in evidence.point_files:
        crs = find_crs(file) or evidence.specified_crs
        metres = crs.metres_per_unit if crs is not None else 1.0
        if file.header is None or not metres:
            continue
        low, high = (
            [value * metres for value in corner[:2]]
            for corner in (file.header.minimum, file.header.maximum)
        )
        inside = (east >= low[0] - reach_m) & (east <= high[0] + reach_m)
        inside &= (north >= low[1] - reach_m) & (north <= high[1] + reach_m)
        if inside.any():
            found.append(file.path)
    return found


def name_tiles(
    evidence: Evidence, path: Path, spans: Iterable[tuple[float, float]], reach_m: float
) -> str:
    """Return them as a clause, `, above tile_13.laz and tile_14.laz`; empty for none."""
    found = list_tiles(evidence, path, spans, reach_m)
    if not found:
        return ""
    shown = ", ".join(found[:_NAMED])
    more = len(found) - _NAMED
    rest = f" and {count_things(more, 'more file')}" if more > 0 else ""
    return f", above {shown}{rest}"
