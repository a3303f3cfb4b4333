"""Checkpoints that are control points as well: by name, or by lying on the same spot."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

from ledger.dataclass import dataclass
from lidar_checks.ground.residuals import Residual

SAME_PLACE_M = 0.05
"""Two points nearer than this are one (common practice, no source)."""

SAME_NAME_M = 5.0
"""Two points of one name this near are one mark, surveyed twice or in two frames; farther apart
they only share a number (common practice, no source)."""

SAME_HEIGHT_M = 0.05
"""Heights of one point that differ by less are two measurements of it (common practice, no
source)."""


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
    """Return the points that lie on the spot of another one: one point, however often listed.

    Two tables of one survey, or one that was sent twice, would otherwise count as twice as many.
    The one that counts is the first at which the cloud has a height.
    """
    return tuple(
        each
        for place in _group_by_place(points)
        for each in sorted(place, key=lambda point: point.dz is None)[1:]
    )


def find_conflicts(points: Iterable[Residual]) -> tuple[tuple[Residual, ...], ...]:
    """Return the points of each spot that is listed with heights that cannot both be right.

    The cloud has one height there, so that its errors differ by what the surveyed heights do.
    """
    return tuple(
        tuple(place)
        for place in _group_by_place(points)
        if len(place) > 1 and abs(measure_conflict(place)) > SAME_HEIGHT_M
    )


def measure_conflict(place: Sequence[Residual]) -> float:
    """Return the surveyed height of one spot that differs most from the first, less that, metres.

    Args:
        place: the points of the spot; zero where fewer than two have a height.
    """
    heights = [each.dz for each in place if each.dz is not None]
    return max((heights[0] - each for each in heights), key=abs) if heights else 0.0


def _group_by_place(points: Iterable[Residual]) -> list[list[Residual]]:
    """Return the points by the spot on which they lie, in the order of the first of each."""
    cells: dict[tuple[int, int], list[list[Residual]]] = {}
    places: list[list[Residual]] = []
    for each in points:
        if not each.is_placed:
            continue
        column, row = (math.floor(axis / SAME_PLACE_M) for axis in (each.east_m, each.north_m))
        near = (
            place
            for x in (column - 1, column, column + 1)
            for y in (row - 1, row, row + 1)
            for place in cells.get((x, y), ())
            if _measure(each, place[0]) < SAME_PLACE_M
        )
        place = next(near, None)
        if place is None:
            places.append([each])
            cells.setdefault((column, row), []).append(places[-1])
        else:
            place.append(each)
    return places


def _measure(one: Residual, other: Residual) -> float:
    return math.hypot(one.east_m - other.east_m, one.north_m - other.north_m)


def _is_same_name(one: Residual, other: Residual) -> bool:
    return bool(one.id.strip()) and one.id.strip().casefold() == other.id.strip().casefold()


def describe_reuse(reuse: Reuse) -> str:
    """Return one pair in words: `C09 (K3, 0.02 m away)`."""
    same = _is_same_name(reuse.checkpoint, reuse.control)
    name = "" if same else f"{reuse.control.id}, "
    return f"{reuse.checkpoint.id} ({name}{reuse.apart_m:.2f} m away)"
