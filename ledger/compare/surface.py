"""Where two sets of points differ, and by how much their surfaces lie apart.

A cell is stable where both sides have enough points in it and those of each lie within a few
centimetres of their mean: bare ground and roofs, no vegetation (common practice, no source).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ledger.compare.celltally import CellTally
from ledger.compare.pulsesample import PulseSample, pair_pulses
from ledger.compare.setresult import CellDifference, Heights, Pulses

STABLE_SPREAD_M = 0.05
STABLE_POINTS = 4
CELLS_SHOWN = 12
_DIGITS = 6


def compare_heights(first: CellTally, second: CellTally, unit_m: float) -> Heights:
    """Return the height differences on stable cells, second less first.

    Args:
        first: one side.
        second: the other, on the same grid.
        unit_m: metres in a unit of height.
    """
    (mean, spread), (other, other_spread) = first.compute_means(), second.compute_means()
    with np.errstate(invalid="ignore"):
        stable = (first.count >= STABLE_POINTS) & (second.count >= STABLE_POINTS)
        for each in (spread, other_spread):
            stable &= each * unit_m <= STABLE_SPREAD_M
    stable[-1] = False  # points beyond the grid have no place
    apart = (other[stable] - mean[stable]) * unit_m
    if not len(apart):
        return Heights(0)
    return Heights(
        cells=len(apart),
        # To a micrometre: 0.02 m is within 0.02 m, whatever the last digits of a division.
        mean_m=round(float(np.mean(apart)), _DIGITS),
        p95_m=round(float(np.percentile(np.abs(apart), 95)), _DIGITS),
        before=int(first.count[stable].sum()),
        after=int(second.count[stable].sum()),
    )


def compare_pulses(
    first: PulseSample, second: PulseSample, steps: tuple[int, int, int], units_m: tuple[float, ...]
) -> Pulses:
    """Return how far the same pulses lie apart, second less first.

    Args:
        first: one side.
        second: the other, on the same lattice.
        steps: lattice steps in a unit of X, Y and Z.
        units_m: metres in a unit of X, Y and Z.
    """
    apart = pair_pulses(first, second)
    if not len(apart):
        return Pulses(0)
    means = apart.mean(axis=0) / np.array(steps) * np.array(units_m)
    east, north, up = (round(float(value), _DIGITS) for value in means)
    return Pulses(len(apart), east, north, up)


def list_cells(
    first: CellTally, second: CellTally, *, by_place: bool
) -> tuple[int, tuple[CellDifference, ...]]:
    """Return in how many cells anything differs, and those in which most does.

    Args:
        first: one side.
        second: the other, on the same grid.
        by_place: only places count, not the other fields of points.
    """
    differs: NDArray[np.bool_] = first.count != second.count
    differs |= first.geometry != second.geometry
    if not by_place:
        differs |= first.full != second.full
    cells = np.flatnonzero(differs)
    grid = first.grid
    placed = cells[cells < grid.size - 1]
    change = np.abs(second.count[placed] - first.count[placed])
    most = placed[np.argsort(-change, kind="stable")[:CELLS_SHOWN]]
    return len(cells), tuple(
        CellDifference(
            *grid.find_middle(int(cell)), int(first.count[cell]), int(second.count[cell])
        )
        for cell in most
    )
