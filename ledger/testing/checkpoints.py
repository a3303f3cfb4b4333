"""Surveyed points of a tiny survey, on its true ground, in a declared table."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from decimal import Decimal
from typing import Any

import numpy as np

from ledger.model.known import KnownValue
from ledger.model.surveypoints import CHECKPOINTS, PointTable, SurveyPoint
from ledger.testing.scene import Scene

DECLARED = {
    "horizontal": "EPSG:6346",
    "vertical": "orthometric",
    "unit_horizontal": "metre",
    "unit_vertical": "metre",
}
"""What a table of `make_table` declares unless told otherwise; as the tiles of a `Layout` say."""

TABLE_SPECIFICATION = """\
[coordinates]
horizontal = "EPSG:6346"
vertical = "orthometric"
unit = { horizontal = "metre", vertical = "metre" }
"""
"""The part of `job.toml` that such a table is held against."""


def make_point(
    name: str,
    east: float,
    north: float,
    height: float | None,
    *,
    digits: int = 4,
    **parts: Any,  # noqa: ANN401 - fields of SurveyPoint
) -> SurveyPoint:
    """Return a surveyed point with numbers as a table would hold them.

    Args:
        name: its id.
        east: easting, in the unit of the table.
        north: northing.
        height: height; None for an empty cell.
        digits: decimals.
        parts: further fields of `SurveyPoint`.
    """

    def write(number: float) -> Decimal:
        return Decimal(f"{number:.{digits}f}")

    written = None if height is None else write(height)
    return SurveyPoint(name, write(east), write(north), written, **parts)


def make_table(
    points: Iterable[SurveyPoint],
    kind: str = CHECKPOINTS,
    path: str = "control/checks.csv",
    declared: Mapping[str, str | KnownValue] | None = None,
) -> PointTable:
    """Return a declared table.

    Args:
        points: its points.
        kind: `control` or `checkpoints`.
        path: where it would lie.
        declared: changes to `DECLARED`; an empty text takes a declaration away.
    """
    stated = {**DECLARED, **(declared or {})}
    known = {
        name: value if isinstance(value, KnownValue) else KnownValue(value)
        for name, value in stated.items()
        if value
    }
    return PointTable(path=path, sha256="c" * 64, kind=kind, declared=known, points=tuple(points))


def spread_points(
    scene: Scene, count: int = 12, *, error: float = 0.0, noise: float = 0.0, seed: int = 7
) -> tuple[SurveyPoint, ...]:
    """Return points on the true ground of a scene, spread over all of it, two metres off its rim.

    Args:
        scene: what was flown.
        count: points.
        error: how far the cloud lies above the survey: each height is so much less than the truth,
            units of Z.
        noise: standard deviation of the survey, units of Z.
        seed: start of the random numbers.
    """
    random = np.random.default_rng(seed)
    wide, high = scene.columns * scene.tile_size - 4.0, scene.rows * scene.tile_size - 4.0
    across = max(1, round((count * wide / high) ** 0.5))
    along = -(-count // across)
    columns, rows = np.divmod(np.arange(count), along)
    east = scene.origin[0] + 2.0 + (columns + random.uniform(0.3, 0.7, count)) * wide / across
    north = scene.origin[1] + 2.0 + (rows + random.uniform(0.3, 0.7, count)) * high / along
    # Rounded as the table will have them, so that the height is true at the written place.
    east, north = np.round(east, 4), np.round(north, 4)
    height = scene.compute_ground(east, north) - error + random.normal(0.0, 1.0, count) * noise
    return tuple(
        make_point(f"C{number + 1:02d}", e, n, h)
        for number, (e, n, h) in enumerate(zip(east, north, height, strict=True))
    )
