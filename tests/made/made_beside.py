"""Made points beside a made path: level ground 45 m below lines that fly east and west."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
from made_cloud import make_header
from made_logs import READ, SOUTH, TAKEOFF, WEST, Flown, judge_logs, make_track
from made_records import COORDINATES, READING

from ledger.contract.check import Check, Finding
from ledger.model.fieldlogs import Track
from ledger.model.known import KnownValue
from ledger.model.specification import Specification
from ledger.testing import drive_check, make_chunk, make_file

ABOVE = 45.0
GROUND = 180.0
FLOWN = Flown(step=0.2)
TILE = "tile_01.laz"


def make_beside_track(**parts: Any) -> Track:
    """Return the path of the made flight, with the heights of the points."""
    given: dict[str, Any] = {
        "height_m": GROUND + ABOVE,
        "height_type": KnownValue("orthometric", known_by=READ),
        **parts,
    }
    return make_track(FLOWN, **given)


def make_points(count: int = 20_000, seed: int = 3) -> dict[str, Any]:
    """Return points on the lines of the flight, up to 40 m to both sides."""
    random = np.random.default_rng(seed)
    line = random.integers(0, FLOWN.lines, count)
    along = random.uniform(5, FLOWN.length - 5, count)
    begun = FLOWN.still + line * (FLOWN.length / FLOWN.speed + np.pi * 17.5 / FLOWN.speed)
    into = np.where(line % 2 == 0, along, FLOWN.length - along) / FLOWN.speed
    return {
        "x": WEST + along,
        "y": SOUTH + line * FLOWN.spacing + random.uniform(-40, 40, count),
        "z": GROUND + random.normal(0, 0.02, count),
        "gps_time": TAKEOFF + begun + into - 1e9,
    }


def look_beside(
    check: Check, points: dict[str, Any], track: Track | None = None, **parts: Any
) -> tuple[Finding, ...]:
    """Return what a check finds of points beside a path; `card` holds values of the flight."""
    files = (
        make_file(
            TILE,
            header=make_header((WEST, SOUTH, WEST + 300, SOUTH + 210), count=len(points["x"])),
            crs=READING,
        ),
    )
    card = {"height_above_ground": "45", **parts.pop("card", {})}
    given: dict[str, Any] = {
        "specification": Specification(coordinates=replace_geoid(parts.pop("vertical", None))),
        **parts,
    }
    logs = (make_beside_track() if track is None else track,)
    evidence = replace(judge_logs(*logs, files=files, card=card), **given)
    return drive_check(check, evidence, {TILE: [make_chunk(points)]})


def replace_geoid(vertical: str | None) -> Any:
    """Return the coordinates of the job, with another kind of height if one is given."""
    return (
        COORDINATES if vertical is None else COORDINATES.model_copy(update={"vertical": vertical})
    )


def change(points: dict[str, Any], count: int, **fields: Any) -> dict[str, Any]:
    """Return points of which the first ones have other values; a number is added."""
    changed = {name: values.copy() for name, values in points.items()}
    for name, value in fields.items():
        changed[name][:count] = value if np.ndim(value) else changed[name][:count] + value
    return changed
