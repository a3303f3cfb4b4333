"""Drawing a small map from cells: bounded by joining cells, in whole numbers.

A check yields a map from `finish` beside its findings. The audit keeps it in the book, names it in
`--json` and on the screen.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from ledger.errors import ContractError
from ledger.model.georeferencing import Crs
from ledger.model.lattice import Lattice
from ledger.model.raster import MAX_SIDE, NO_VALUE, Raster

__all__ = [
    "MAX_RASTERS",
    "MAX_SIDE",
    "NO_VALUE",
    "Raster",
    "Sheet",
    "name_plan_unit",
    "require_raster",
]

MAX_RASTERS = 8
"""Maps that one check may draw in an audit."""

_NAME = re.compile(r"[a-z][a-z0-9]*(-[a-z0-9]+)*")

Int64Array = NDArray[np.int64]


class Sheet:
    """A map in the making: cells come in portions, and are joined as they come.

    Cells are joined in squares that are aligned with the origin of the coordinates, so that the
    map does not depend on the order of the cells or on how they are portioned.

    Attributes:
        joined: cells along a side of a square.
    """

    def __init__(
        self,
        cell: int,
        lattice: Lattice,
        extent: tuple[int, int, int, int],
        keep: Literal["mean", "largest"] = "mean",
    ) -> None:
        """Prepare an empty map.

        Args:
            cell: side of a cell, lattice steps.
            lattice: the lattice of the audit.
            extent: least column, least row, greatest column, greatest row, in cells from the
                origin of the coordinates.
            keep: what a joined cell shows: the mean, rounded half up, or the value farthest from
                zero with its sign, of two that are equally far the positive one.
        """
        left, bottom, right, top = extent
        self.joined = max(1, -(-max(right - left + 1, top - bottom + 1) // (MAX_SIDE - 1)))
        self._left, self._bottom = left // self.joined, bottom // self.joined
        self._shape = (
            top // self.joined - self._bottom + 1,
            right // self.joined - self._left + 1,
        )
        self._side = cell * self.joined / lattice.steps_xy
        self._keep = keep
        size = self._shape[0] * self._shape[1]
        self._totals = np.zeros(size, dtype=np.int64)
        self._counts = np.zeros(size, dtype=np.int64)

    def add(
        self,
        columns: Int64Array,
        rows: Int64Array,
        values: Int64Array,
        weights: Int64Array | None = None,
    ) -> None:
        """Take in some cells; a cell may come several times.

        Args:
            columns: column of each cell from the origin of the coordinates, int64, (n,).
            rows: row of each cell, (n,).
            values: its value in steps, (n,).
            weights: what each value counts in a mean, (n,); None for 1 each.
        """
        across = columns // self.joined - self._left
        index = (rows // self.joined - self._bottom) * self._shape[1] + across
        weight = np.ones_like(values) if weights is None else weights
        if self._keep == "mean":
            order = np.argsort(index, kind="stable")
            starts = np.flatnonzero(np.diff(index[order], prepend=-1))
            if len(starts):
                where = index[order][starts]
                self._totals[where] += np.add.reduceat((values * weight)[order], starts)
                self._counts[where] += np.add.reduceat(weight[order], starts)
            return
        # In order of distance from zero, the positive of two last: the last written stays.
        order = np.lexsort((values, np.abs(values)))
        largest = np.zeros_like(self._totals)
        largest[index[order]] = values[order]
        self._counts[index] = 1
        held = self._totals
        larger = (np.abs(largest) > np.abs(held)) | ((largest == -held) & (largest > 0))
        self._totals[larger] = largest[larger]

    def draw(self, name: str, title: str, *, step: float, unit: str = "") -> Raster:
        """Return the map of what was taken in.

        Args:
            name: kebab case, unique within the check.
            title: what it shows.
            step: value of one unit of the values, in `unit`.
            unit: unit of a value.
        """
        grid = np.full(len(self._totals), NO_VALUE, dtype=np.int64)
        known = self._counts > 0
        if self._keep == "mean":
            counts = self._counts[known]
            grid[known] = (2 * self._totals[known] + counts) // (2 * counts)
        else:
            grid[known] = self._totals[known]
        np.clip(grid, NO_VALUE + 1, np.iinfo(np.int32).max, out=grid, where=known)
        values = grid.astype(np.int32).reshape(self._shape)
        values.flags.writeable = False
        origin = (self._left * self._side, self._bottom * self._side)
        return Raster(name, title, unit, step, origin, self._side, values)


def name_plan_unit(systems: Iterable[Crs | None]) -> str:
    """Return the symbol of the unit of X and Y; empty where it is not known, or not one.

    Args:
        systems: the coordinate system of each point file as it says itself.
    """
    symbols = {crs.unit.symbol if crs is not None and crs.unit else "" for crs in systems}
    return symbols.pop() if len(symbols) == 1 else ""


def require_raster(check: str, raster: Raster) -> Raster:
    """Return a map that a check drew, when it can be kept.

    Raises:
        ContractError: its name, its size, its kind of numbers or its place is wrong.
    """
    values = raster.values
    numbers = (raster.step, raster.cell, *raster.origin)
    faults = {
        "name": not isinstance(raster.name, str) or not _NAME.fullmatch(raster.name),
        "title": not isinstance(raster.title, str) or not raster.title.strip(),
        "size": values.ndim != 2 or not 0 < max(values.shape) <= MAX_SIDE,
        "kind of numbers": values.dtype != np.int32,
        "place": not all(np.isfinite(numbers)) or raster.cell <= 0 or raster.step <= 0,
    }
    wrong = [part for part, is_wrong in faults.items() if is_wrong]
    if wrong:
        raise ContractError(f"a map of {check} cannot be kept: its {wrong[0]} is wrong")
    return raster
