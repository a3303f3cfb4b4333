"""Checkpoints that are control points as well: by name, or by lying on the same spot."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

from lidar_checks.ground.residuals import Residual

SAME_PLACE_M = 0.05
"""Two points nearer than this are one (common practice, no source)."""

SAME_NAME_M = 5.0
"""Two points of one name this near are one mark, surveyed twice or in two frames; farther apart
they only share a number (common practice, no source)."""


@dataclass(frozen=True)
class Reuse:
    """A checkpoint and the control point that it also is.

    Args:
        checkpoint: the checkpoint.
        control: the control point.
        apart_m: distance between them in plan, metres.
    """

    checkpoint: Residual
    control: Residual
    apart_m: float


def find_reuse(checkpoints: Iterable[Residual], control: Iterable[Residual]) -> tuple[Reuse, ...]:
    """Return each checkpoint that is also control, with the nearest such point of each table."""
    listed = [each for each in control if each.is_placed]
    found: list[Reuse] = []
    for checkpoint in checkpoints:
        by_table: dict[str, Reuse] = {}
        for each in listed if checkpoint.is_placed else ():
            apart = _measure(each, checkpoint)
            if apart < SAME_PLACE_M or (apart < SAME_NAME_M and _is_same_name(each, checkpoint)):
                before = by_table.get(each.table)
                if before is None or apart < before.apart_m:
                    by_table[each.table] = Reuse(checkpoint, each, apart)
        found.extend(by_table.values())
    return tuple(found)


def find_repeated(points: Iterable[Residual]) -> tuple[Residual, ...]:
    """Return the points that lie on the spot of one before them: one point, however often listed.

    Two tables of one survey, or one that was sent twice, would otherwise count as twice as many.
    """
    cells: dict[tuple[int, int], list[Residual]] = {}
    repeated = []
    for each in points:
        if not each.is_placed:
            continue
        column, row = (math.floor(axis / SAME_PLACE_M) for axis in (each.east_m, each.north_m))
        near = (
            known
            for x in (column - 1, column, column + 1)
            for y in (row - 1, row, row + 1)
            for known in cells.get((x, y), ())
        )
        if any(_measure(each, known) < SAME_PLACE_M for known in near):
            repeated.append(each)
        else:
            cells.setdefault((column, row), []).append(each)
    return tuple(repeated)


def _measure(one: Residual, other: Residual) -> float:
    return math.hypot(one.east_m - other.east_m, one.north_m - other.north_m)


def _is_same_name(one: Residual, other: Residual) -> bool:
    return bool(one.id.strip()) and one.id.strip().casefold() == other.id.strip().casefold()


def describe_reuse(reuse: Reuse) -> str:
    """Return one pair in words: `C09 (K3, 0.02 m away)`."""
    same = _is_same_name(reuse.checkpoint, reuse.control)
    name = "" if same else f"{reuse.control.id}, "
    return f"{reuse.checkpoint.id} ({name}{reuse.apart_m:.2f} m away)"
