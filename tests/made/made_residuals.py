"""Residuals of the made-up site, and the facts of its job, to diagnose without any points.

Everything is invented: see `ledger.demo.site`. The residuals of the rejected run (`REJECTED`) are
the geoid height of demo-geoid-A and noise, those of the accepted run (`ACCEPTED`) noise alone.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from ledger.demo import site
from lidar_checks.ground.causes.observed import Floats, Observed, collect
from lidar_checks.ground.causes.site_facts import (
    Antenna,
    Arms,
    Drift,
    FrameShift,
    GridHeights,
    Projection,
    SiteFacts,
)
from lidar_checks.ground.residuals import Residual

NAMES = tuple(each.name for each in site.CHECKPOINTS)
PLACES = np.array([(each.east, each.north) for each in site.CHECKPOINTS])
ACCEPTED = np.array([each.accepted_m for each in site.CHECKPOINTS])
REJECTED = np.array([each.rejected_m for each in site.CHECKPOINTS])
EAST, NORTH = PLACES.T
HEIGHT = site.compute_ground(EAST, NORTH)
GEOID_A, GEOID_B = site.compute_geoid_a(EAST, NORTH), site.compute_geoid_b(EAST, NORTH)
# ITRF less NAD83(2011) at the site in 2026, to the centimetre; see tests/expected.
FRAME_SHIFT = np.array([-0.77, 0.95, -1.26])
ANTENNA_M = 1.523
_STEP_M = 0.5


def compute_gradient(east: Floats, north: Floats) -> Floats:
    """Return the rise of the made-up ground to the east and to the north, (n, 2)."""
    ways = ((_STEP_M, 0.0), (0.0, _STEP_M))
    rises = [
        site.compute_ground(east + x, north + y) - site.compute_ground(east - x, north - y)
        for x, y in ways
    ]
    return np.column_stack(rises) / (2 * _STEP_M)


GRADIENT = compute_gradient(EAST, NORTH)


def make_residuals(dz: Sequence[float] | Floats, **parts: Any) -> list[Residual]:
    """Return residuals at the checkpoints of the made-up site.

    Args:
        dz: (14,).
        parts: of every residual; `dx` and `dy` are arrays; `gradient` replaces the slopes.
    """
    plan = {name: parts.pop(name) for name in ("dx", "dy") if name in parts}
    made = []
    for number, name in enumerate(NAMES):
        own: dict[str, Any] = {
            "gradient": (float(GRADIENT[number, 0]), float(GRADIENT[number, 1])),
            **{axis: float(values[number]) for axis, values in plan.items()},
            **parts,
        }
        east, north, height = EAST[number], NORTH[number], HEIGHT[number]
        fixed = (name, "control/checks.csv", "checkpoints", float(east), float(north))
        made.append(Residual(*fixed, float(height), dz=float(dz[number]), count=20, **own))
    return made


def observe(dz: Sequence[float] | Floats, **parts: Any) -> Observed:
    """Return residuals as arrays; see `make_residuals`."""
    return collect(make_residuals(dz, **parts))


def make_facts(**changes: Any) -> SiteFacts:
    """Return the facts of the made-up job."""
    count = len(NAMES)
    facts = SiteFacts(
        east=EAST,
        north=NORTH,
        height=HEIGHT,
        asked="orthometric",
        grid=GridHeights("geoid/demo-geoid-A.tif", "a" * 64, GEOID_A),
        other_grids=(GridHeights("geoid/demo-geoid-B.tif", "b" * 64, GEOID_B),),
        receiver_m=-31.2,
        receiver_log="flight/nmea_0412.txt",
        frames=(FrameShift("ITRF2020", "NAD83(2011)", 2026.4, np.tile(FRAME_SHIFT, (count, 1))),),
        drifts=(Drift("ITRF2020", 2010.0, 2026.4, np.tile([-0.27, 0.06, -0.02], (count, 1))),),
        antennas=(Antenna("F1", ANTENNA_M),),
        arms=(Arms("G1", 0.231, None, "aircraft"),),
        projection=Projection("NAD83(2011) / UTM zone 17N", 0.99963361, 0.99960502, 0.00653),
    )
    return replace(facts, **changes)
