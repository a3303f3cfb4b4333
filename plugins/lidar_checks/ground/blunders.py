"""Blunders among checkpoints: single ones, two heights exchanged, a block that is off together.

Pure functions of residuals. Scores of 0.6745 (x - median) / MAD beyond 3.5: Iglewicz and Hoaglin,
How to Detect and Handle Outliers, 1993, as the NIST/SEMATECH e-Handbook 1.3.5.17 states it. The
shares by which an exchange or a block has to explain the errors are common practice, no source.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from ledger.dataclass import dataclass
from ledger.loading import load_part
from lidar_checks.ground.error_statistics import compute_robust_scores
from lidar_checks.ground.residuals import Residual

SCORE_MAX = 3.5
CHANCE = 0.01
"""How often an honest survey may have any point called a blunder; by the t distribution, as in the
test of Grubbs (NIST/SEMATECH e-Handbook 1.3.5.17.1)."""

FEWEST_POINTS = 5
EXPLAINED_MIN = 0.9
"""Share of the sum of squares that an exchange or a block has to take away."""

_FEWEST_IN_BLOCK = 2
# Both of an exchanged pair lie far off, so that only the farthest have to be tried.
_MOST_TRIED = 40

Values = NDArray[np.float64]


def find_outliers(heights: Sequence[float], off_min_m: float) -> list[int]:
    """Return which errors are blunders, worst first.

    A blunder scores beyond 3.5, lies farther off than `off_min_m`, and farther than chance puts the
    farthest of so many by the spread of the others: a score alone, of few points, calls one honest
    survey of twenty spoiled.

    Args:
        heights: errors in height, metres.
        off_min_m: least distance from the median, metres: below it nothing is a blunder, however
            alike the others are.
    """
    count = len(heights)
    if count < FEWEST_POINTS:
        return []
    values = np.asarray(heights, dtype=np.float64)
    off = np.abs(values - np.median(values))
    far = (compute_robust_scores(values) > SCORE_MAX) & (off > off_min_m)
    rest = values[~far]
    if not far.any() or len(rest) < 2:
        return []
    beyond = _compute_reach(len(rest), count) * float(rest.std(ddof=1))
    chosen = np.flatnonzero(far & (np.abs(values - rest.mean()) > beyond))
    return [int(place) for place in chosen[np.argsort(-off[chosen], kind="stable")]]


def _compute_reach(rest: int, count: int) -> float:
    """Return how many deviations of the rest one more error of `count` may lie off by chance."""
    invert = load_part("scipy.special", "stdtrit")
    tail = 1 - CHANCE / (2 * count)
    return float(invert(rest - 1, tail)) * float(np.sqrt(1 + 1 / rest))


@dataclass(frozen=True)
class Exchange:
    """Two checkpoints whose heights fit once they are exchanged.

    Args:
        one, other: their places in the list, ascending.
        before, after: root mean square of their two errors about the median of all, without and
            with the exchange, metres.
    """

    one: int
    other: int
    before: float
    after: float


def find_exchanges(points: Sequence[Residual], blunders: Sequence[int]) -> list[Exchange]:
    """Return the pairs of blunders that are none once their heights are exchanged.

    A table in which the heights of A and B stand in each other's rows gives the cloud at A less the
    height of B. Errors are taken about the median, so that a cloud that lies off as a whole does
    not hide it, and only those of the two count, so that a third blunder does not either.

    Args:
        points: checkpoints that all have a `dz`.
        blunders: places of those that are off; the worst of them are tried.

    Returns:
        Pairs of which an exchange takes away 90 % of the sum of squares; none with a point that two
        exchanges would put right, since neither can be named then.
    """
    off = np.array([each.dz for each in points], dtype=np.float64)
    off -= np.median(off)
    found = []
    for one, other in combinations(sorted(blunders[:_MOST_TRIED]), 2):
        rise = points[one].height_m - points[other].height_m
        before = float(np.hypot(off[one], off[other]))
        after = float(np.hypot(off[one] + rise, off[other] - rise))
        if after**2 <= (1 - EXPLAINED_MIN) * before**2:
            root = float(np.sqrt(2))
            found.append(Exchange(one, other, before / root, after / root))
    named = Counter(place for each in found for place in (each.one, each.other))
    return [each for each in found if named[each.one] == named[each.other] == 1]


def put_right(points: Sequence[Residual], exchanges: Sequence[Exchange]) -> list[float]:
    """Return the errors in height as they would be with some heights exchanged back, metres."""
    heights = [each.dz if each.dz is not None else float("nan") for each in points]
    for each in exchanges:
        rise = points[each.one].height_m - points[each.other].height_m
        heights[each.one] += rise
        heights[each.other] -= rise
    return heights


@dataclass(frozen=True)
class Block:
    """Checkpoints that follow each other and are off together.

    Args:
        first, last: places of the first and last, in the order that was given.
        step_m: their mean less that of the others, metres.
        explained: share of the sum of squares that the step takes away.
    """

    first: int
    last: int
    step_m: float
    explained: float


def find_block(heights: Sequence[float], step_min_m: float) -> Block | None:
    """Return the run of consecutive errors whose mean differs most from that of the others.

    The smaller part is the block, as far as numbers tell: most points are taken to be right.

    Args:
        heights: errors in height in the order in which the points were surveyed, metres.
        step_min_m: least difference of the two means, metres.

    Returns:
        None where no run of at least two, and of no more than half, takes away 90 % of the sum of
        squares, or differs by more than `step_min_m`.
    """
    values = np.asarray(heights, dtype=np.float64)
    count = len(values)
    if count < FEWEST_POINTS:
        return None
    total = float(np.square(values - values.mean()).sum())
    # Sums and sums of squares up to each place give the spread of every run and of its rest.
    centred = values - values.mean()
    sums = np.concatenate([[0.0], np.cumsum(centred)])
    best: Block | None = None
    for first in range(count):
        last = np.arange(first + _FEWEST_IN_BLOCK - 1, min(count, first + count // 2))
        if not last.size:
            continue
        inside = sums[last + 1] - sums[first]
        number = last - first + 1
        # The sum of all is 0, so that of the rest is the negative of that of the run.
        explained = inside**2 / number + inside**2 / (count - number)
        place = int(np.argmax(explained))
        share = float(explained[place]) / total if total > 0 else 0.0
        if best is None or share > best.explained:
            step = float(inside[place]) * (1 / number[place] + 1 / (count - number[place]))
            best = Block(first, int(last[place]), float(step), share)
    if best is None or best.explained < EXPLAINED_MIN or abs(best.step_m) <= step_min_m:
        return None
    return best
