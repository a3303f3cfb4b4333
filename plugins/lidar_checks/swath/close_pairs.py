"""How often points of two passes lie close to each other, against what chance makes of it.

Two passes that were flown one after the other know nothing of each other, so that a point of one
lies as near to a point of the other as the density has it: of all pairs within a circle a share
lies within a smaller one that is the ratio of their areas. Thinning to a distance, or to one point
in each cell of a grid, takes the close pairs away, whichever pass they are of. Only pairs of two
passes count, because the points of one pass keep apart by themselves, as the scanner lays them.

Heights count too: pairs are looked at whose heights differ no more than the smaller circle is
wide, so that a tree over the ground, or a rough surface, takes nothing away.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from ledger.dataclass import dataclass
from ledger.loading import load_part
from lidar_checks.swath.key_order import number_values, order_keys
from lidar_checks.swath.patch_sample import Kept

Int64Array = NDArray[np.int64]
Float64Array = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

PARTS = (4, 8)
"""The smaller circles: a fourth and an eighth of the mean spacing."""

# All lengths below are in mean spacings: the side of the square that holds one point on average.
_WIDE = 2.0
_APART = 1000.0
# What keys lose by rounding is less by far.
_SLACK = 1e-3
# Points whose pairs are looked for at once, so that temporaries stay in the processor's cache.
_AT_ONCE = 4096
_PLACES = 4
# Blocks in which passes lie side by side and not over each other would look thinned, so that each
# of nine parts of a block has to hold two passes.
_ACROSS = 3
# Stored steps coarser than half the smaller circle count pairs badly.
_FINEST_STEPS = 2


@dataclass(frozen=True)
class ClosePairs:
    """What the kept blocks of a file show.

    Args:
        blocks: blocks in which two passes or more lie over each other.
        seen_twice: whether any block holds two passes, over each other or not.
        close: pairs within each of the smaller circles, see `PARTS`.
        wide: pairs within the wide circle whose heights differ no more than the smaller one.
        all_pairs: pairs within the wide circle, of one pass or two.
        uneven: how far the share of pairs of two passes hangs on where the one point lies from the
            other: none where it does not, as many as `all_pairs` where each such place has pairs
            of two passes only, or none.
    """

    blocks: int = 0
    seen_twice: bool = False
    close: tuple[int, ...] = (0,) * len(PARTS)
    wide: tuple[int, ...] = (0,) * len(PARTS)
    all_pairs: int = 0
    uneven: float = 0.0


@dataclass(frozen=True)
class BlockPoints:
    """Points of the blocks that count; lengths in spacings of their own block, each (n,).

    Args:
        u, v, w: place; each block is far away from the next along u.
        block, number: block and pass.
        spacing: lattice steps in a spacing.
    """

    u: Float64Array
    v: Float64Array
    w: Float64Array
    block: Int64Array
    number: Int64Array
    spacing: Float64Array


@dataclass(frozen=True)
class _Pairs:
    """Pairs of points, each once; lengths in spacings, each (m,).

    Args:
        across, along: from the one point to the other along u and v.
        square: of their distance in u and v.
        rise: along w.
        crossing: they are of two passes.
    """

    across: Float64Array
    along: Float64Array
    square: Float64Array
    rise: Float64Array
    crossing: BoolArray


def lay_out_blocks(kept: Kept, side: int, pause_s: float, rise: float) -> BlockPoints | None:
    """Return the points of the blocks that count; None where no block holds two passes at all.

    Args:
        kept: all points of some blocks, at least one.
        side: side of a block, lattice steps.
        pause_s: pause between two passes over a block, seconds, whatever the point source ids: two
            channels of one scanner may have ids of their own.
        rise: length of a step of Z over that of a step of X and Y.
    """
    column, row = kept.x // side, kept.y // side
    place = (column - column.min()) * (int(row.max() - row.min()) + 1) + (row - row.min())
    block = number_values(place)[0]
    order = np.argsort(kept.time, kind="stable")
    order = order.take(order_keys(block.take(order)))
    kept, block = kept.take(order), block[order]
    begins = np.ones(len(block), dtype=np.bool_)
    begins[1:] = (np.diff(block) > 0) | (np.diff(kept.time) > pause_s)
    number = np.cumsum(begins) - 1
    if not (begins[1:] & (np.diff(block) == 0)).any():
        return None
    spacing = side / np.sqrt(np.bincount(block).astype(np.float64))[block]
    u, v = kept.x % side, kept.y % side
    counts = _find_mixed(block, u * _ACROSS // side * _ACROSS + v * _ACROSS // side, number)
    counts &= spacing / PARTS[0] >= _FINEST_STEPS * _find_step(kept)
    return BlockPoints(
        u=u[counts] / spacing[counts] + block[counts] * _APART,
        v=v[counts] / spacing[counts],
        w=kept.z[counts] * rise / spacing[counts],
        block=block[counts],
        number=number[counts],
        spacing=spacing[counts],
    )


def _find_mixed(block: Int64Array, part: Int64Array, number: Int64Array) -> BoolArray:
    """Say of each point whether every part of its block holds two passes or more."""
    parts = _ACROSS**2
    cell = block * parts + part
    first = np.full((int(block[-1]) + 1) * parts, np.iinfo(np.int64).max)
    last = np.full_like(first, -1)
    np.minimum.at(first, cell, number)
    np.maximum.at(last, cell, number)
    mixed = np.all((last > first).reshape(-1, parts), axis=1)
    return np.asarray(mixed)[block]


def _find_step(kept: Kept) -> int:
    """Return the coarser of the steps in which X and Y are stored, lattice steps."""
    return max(int(np.gcd.reduce(each - each[0])) for each in (kept.x, kept.y))


def count_close_pairs(points: BlockPoints | None) -> ClosePairs:
    """Return what the blocks show; the order of the points leaves no trace."""
    if points is None or not len(points.u):
        return ClosePairs(seen_twice=points is not None)
    pairs = _find_pairs(points)
    level = [pairs.crossing & (np.abs(pairs.rise) <= 1 / part) for part in PARTS]
    close = [each & (pairs.square <= 1 / part**2) for each, part in zip(level, PARTS, strict=True)]
    return ClosePairs(
        blocks=len(np.unique(points.block)),
        seen_twice=True,
        close=tuple(int(np.count_nonzero(each)) for each in close),
        wide=tuple(int(np.count_nonzero(each)) for each in level),
        all_pairs=len(pairs.crossing),
        uneven=_measure_unevenness(pairs),
    )


def _find_pairs(points: BlockPoints) -> _Pairs:
    """Return the pairs within the wide circle.

    Points are put in strips as wide as the circle reaches, and in order along each strip: a point
    and its partner lie in one strip, or in one and the next.
    """
    apart, reach = float(points.v.max()) + 3 * _WIDE, _WIDE + _SLACK
    key = np.floor(points.u / _WIDE) * apart + points.v
    order = np.argsort(key)
    key = key.take(order)
    places = np.stack([each.take(order) for each in (points.u, points.v, points.w)])
    number = points.number.take(order)
    found = []
    for begin in range(0, len(key), _AT_ONCE):
        here = key[begin : begin + _AT_ONCE]
        after = np.arange(begin + 1, begin + len(here) + 1)
        for start, end in (
            (after, here + reach),
            (np.searchsorted(key, here + (apart - reach)), here + (apart + reach)),
        ):
            partners = np.searchsorted(key, end) - start
            one = np.repeat(after - 1, partners)
            two = np.arange(len(one)) + np.repeat(start - np.cumsum(partners) + partners, partners)
            across, along, rise = places.take(two, axis=1) - places.take(one, axis=1)
            square = across**2 + along**2
            near = np.flatnonzero(square <= _WIDE**2)
            crossing = number.take(one) != number.take(two)
            found.append([each.take(near) for each in (across, along, square, rise, crossing)])
    return _Pairs(*(np.concatenate(each) for each in zip(*found, strict=True)))


def measure_nearest(points: BlockPoints) -> tuple[float, float]:
    """Return how far the nearest neighbours lie: of 5 % of the points at most, and the median.

    Lattice steps, for at least two points.
    """
    tree: Any = load_part("scipy.spatial", "cKDTree")
    space = np.column_stack((points.u, points.v, points.w))
    nearest = tree(space).query(space, k=2)[0][:, 1] * points.spacing
    near, usual = np.percentile(nearest, (5, 50))
    return float(near), float(usual)


def _measure_unevenness(pairs: _Pairs) -> float:
    """Return how far the share of pairs of two passes hangs on the place, see `ClosePairs`."""
    across, along, crossing = pairs.across, pairs.along, pairs.crossing
    if not len(crossing):
        return 0.0
    # A pair is seen from either point.
    turn = np.where((across < 0) | ((across == 0) & (along < 0)), -_PLACES, _PLACES)
    column = np.floor(across * turn).astype(np.int64)
    row = np.floor(along * turn).astype(np.int64)
    place = (column << 8) + row
    place -= place.min()
    every = np.bincount(place)
    of_two = np.bincount(place, crossing)
    share = float(np.mean(crossing))
    off = float(np.abs(of_two - share * every).sum())
    return off / (2 * share * (1 - share)) if 0 < share < 1 else float(len(crossing))


def expect_close(found: ClosePairs) -> tuple[float, ...]:
    """Return how many pairs chance would have left within each of the smaller circles."""
    return tuple(wide / (_WIDE * part) ** 2 for wide, part in zip(found.wide, PARTS, strict=True))


def add_up(found: list[ClosePairs]) -> ClosePairs:
    """Return what several files show together; the distances are left out."""
    return ClosePairs(
        blocks=sum(each.blocks for each in found),
        seen_twice=any(each.seen_twice for each in found),
        close=tuple(sum(each.close[n] for each in found) for n in range(len(PARTS))),
        wide=tuple(sum(each.wide[n] for each in found) for n in range(len(PARTS))),
        all_pairs=sum(each.all_pairs for each in found),
        uneven=sum(each.uneven for each in found),
    )
