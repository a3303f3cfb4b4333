"""The blunders among checkpoints that have a name: exchanged pairs, a block, single ones."""

from __future__ import annotations

from collections.abc import Sequence
from statistics import median

from ledger.dataclass import dataclass
from lidar_checks.ground.blunders import (
    Exchange,
    find_block,
    find_exchanges,
    find_outliers,
    put_right,
)
from lidar_checks.ground.residuals import Residual
from lidar_checks.ground.sample import list_heights

_MOST_BESIDE = 2
"""Blunders beside which a block is still sought."""


@dataclass(frozen=True)
class SurveyedBlock:
    """Checkpoints that were surveyed one after the other and are off together.

    Args:
        places: where they stand in the list of points, in the order of the survey.
        step_m: their mean less that of the others, metres.
    """

    places: tuple[int, ...]
    step_m: float


@dataclass(frozen=True)
class NamedBlunders:
    """Blunders by kind, as places in a list of points.

    Args:
        exchanges: pairs whose heights stand in each other's rows.
        block: points that are off together; None for none.
        single: others, worst first.
    """

    exchanges: tuple[Exchange, ...] = ()
    block: SurveyedBlock | None = None
    single: tuple[int, ...] = ()

    @property
    def places(self) -> frozenset[int]:
        """Return every point that has a name as a blunder."""
        paired = {place for each in self.exchanges for place in (each.one, each.other)}
        return frozenset(paired | {*self.single} | {*(self.block.places if self.block else ())})


def name_blunders(
    points: Sequence[Residual], off_min_m: float, block_step_min_m: float
) -> NamedBlunders:
    """Return the blunders among some points.

    Each kind is sought in what the kinds before it leave, so that none hides another.

    Args:
        points: checkpoints that all have a `dz`.
        off_min_m: least distance of a blunder from the median, metres.
        block_step_min_m: least step of a block, metres.
    """
    exchanges = find_exchanges(points, find_outliers(list_heights(points), off_min_m))
    paired = {place for each in exchanges for place in (each.one, each.other)}
    heights = put_right(points, exchanges)
    blunders = find_outliers(heights, off_min_m)
    block = _find_surveyed_block(points, heights, blunders, block_step_min_m)
    if block is not None:
        inside = set(block.places)
        heights = [h - block.step_m if n in inside else h for n, h in enumerate(heights)]
        blunders = find_outliers(heights, off_min_m)
    single = tuple(place for place in blunders if place not in paired)
    return NamedBlunders(tuple(exchanges), block, single)


def _find_surveyed_block(
    points: Sequence[Residual],
    heights: Sequence[float],
    blunders: Sequence[int],
    step_min_m: float,
) -> SurveyedBlock | None:
    """Return a block that follows each other in the survey, beside up to two blunders."""
    order = sort_by_survey(points)
    for left_out in range(_MOST_BESIDE + 1):
        apart = set(blunders[:left_out])
        kept = [place for place in order if place not in apart]
        found = find_block([heights[place] for place in kept], step_min_m)
        if found is None:
            continue
        level = median(heights) + found.step_m
        # One that is off by the same belongs to it, and lies elsewhere: then it is no block.
        if any(abs(heights[each] - level) <= step_min_m for each in apart):
            continue
        return SurveyedBlock(tuple(kept[found.first : found.last + 1]), found.step_m)
    return None


def sort_by_survey(points: Sequence[Residual]) -> list[int]:
    """Return the places of points as they were surveyed: by time, else as the table has them.

    Times count only where every point has one: half a list of them sorts nothing.
    """
    places = list(range(len(points)))
    if all(each.surveyed for each in points):
        return sorted(places, key=lambda place: (points[place].table, points[place].surveyed))
    return places
