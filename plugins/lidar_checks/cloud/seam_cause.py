"""The geoid as the cause of a step: where the heights differ by the geoid height, it is named.

An ellipsoidal height h, an orthometric height H and the geoid height N at a place obey h = H + N.
"""

from __future__ import annotations

import statistics
from collections.abc import Sequence
from pathlib import Path

from ledger.contract.evidence import DeliveredFile, Evidence
from ledger.crs import sample_geoid, to_lonlat
from ledger.errors import CrsError

# A national geoid model is good to some centimetres; over a tile it slopes by a few millimetres a
# kilometre (common practice, no source).
_GATE_M = 0.03
_GATE_M_PER_KM = 0.002
# Where the geoid height is no larger than this many gates, agreeing with it means nothing.
_POWER = 3.0

# Keys of job.toml without which no cause is named.
CAUSE_KEYS = ("coordinates.geoid.file", "coordinates.vertical")

Place = tuple[float, float]


def name_cause(
    rise_m: float,
    places: Sequence[Place],
    radius_m: float,
    file: DeliveredFile,
    evidence: Evidence,
) -> str:
    """Return a sentence that names the geoid as the cause; empty where that cannot be said.

    Args:
        rise_m: how much the file lies above its neighbours, metres.
        places: where the step was measured, file units.
        radius_m: how far the file reaches from there, metres.
        file: the file that stands off.
        evidence: has the geoid grid and the specified kind of heights.
    """
    height = _find_geoid_height(places, file, evidence)
    gate = _GATE_M + _GATE_M_PER_KM * radius_m / 1000
    if height is None or abs(height) <= _POWER * gate:
        return ""
    asked = evidence.specification.coordinates.vertical
    if abs(rise_m - height) <= gate:
        cause = "these heights are ellipsoidal" if asked == "orthometric" else _UNSETTLED
    elif abs(rise_m + height) <= gate:
        causes = {
            "orthometric": "the geoid was taken off twice here",
            "ellipsoidal": "these heights are orthometric",
        }
        cause = causes.get(asked or "", _UNSETTLED)
    else:
        return ""
    return f"The geoid height here is {height:.3f} m: {cause} (gate ±{gate:.3f} m)."


_UNSETTLED = "one side has ellipsoidal heights and the other has not"


def _find_geoid_height(
    places: Sequence[Place], file: DeliveredFile, evidence: Evidence
) -> float | None:
    crs = file.crs.governing.crs if file.crs is not None else None
    crs = crs or evidence.specified_crs
    if crs is None or not evidence.geoid_grid or not places:
        return None
    grid = Path(evidence.geoid_grid)
    try:
        return statistics.fmean(sample_geoid(grid, *to_lonlat(crs, x, y)) for x, y in places)
    except CrsError:
        # Outside the grid, or no way to longitude and latitude: then the step has no name.
        return None
