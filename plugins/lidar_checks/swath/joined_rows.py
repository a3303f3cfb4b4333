"""The rows of all files as one table, and pairs of passes over one cell."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import numpy as np
from numpy.typing import NDArray

from ledger.dataclass import dataclass
from lidar_checks.swath.pass_tally import PassSummary
from lidar_checks.swath.patch_cells import ROW_NAMES
from lidar_checks.swath.patch_sample import hash_place
from lidar_checks.swath.swath_family import PAUSE_S, SwathPlan

Int64Array = NDArray[np.int64]
Float64Array = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

# A pass is held against so many of the passes that follow it over the same cell.
_NEXT = 3
# Heights in lattice steps mean something in their own file only.
_JOINED = tuple(name for name in ROW_NAMES if name != "height")


@dataclass(frozen=True)
class Rows:
    """Rows of all files, ordered by place, source and time; see `PatchCells`.

    Args:
        arrays: the columns of the table, each (n,), with `file` (index into `paths`) and
            `height_m` (height of the plane, metres).
        paths: files, sorted.
        level: the highest level of any file.
        side: side of a patch, lattice steps.
        cell: side of a cell, lattice steps.
    """

    arrays: Mapping[str, NDArray[np.generic]]
    paths: tuple[str, ...]
    level: int
    side: int
    cell: int

    def __getitem__(self, name: str) -> NDArray[np.generic]:
        """Return one column of the table."""
        return self.arrays[name]

    def __len__(self) -> int:
        """Return the number of rows."""
        return len(self.arrays["source"])

    def take(self, chosen: BoolArray) -> Rows:
        """Return some of the rows."""
        arrays = {name: array[chosen] for name, array in self.arrays.items()}
        return Rows(arrays, self.paths, self.level, self.side, self.cell)

    def take_common(self) -> Rows:
        """Return the rows of those patches that every file was looked at in."""
        low = np.uint64((1 << self.level) - 1)
        column, row = (self[name].astype(np.int64) for name in ("column", "row"))
        return self.take(np.equal(hash_place(column, row) & low, 0))

    def is_same_cell(self, ahead: int) -> BoolArray:
        """Say of each row whether the one so many rows on lies in the same cell, (n − ahead,)."""
        same = np.ones(max(0, len(self) - ahead), dtype=np.bool_)
        for name in ("column", "row", "cell"):
            same &= self[name][ahead:] == self[name][: len(same)]
        return same

    def is_other_pass(self, ahead: int) -> BoolArray:
        """Say of each row whether the one so many rows on is of another pass, (n − ahead,)."""
        count = max(0, len(self) - ahead)
        other = self["source"][ahead:] != self["source"][:count]
        first, last = (self[name].astype(np.float64) for name in ("first", "last"))
        return np.asarray(other | (first[ahead:] - last[:count] > PAUSE_S))

    def find_place(self, index: int, steps: int) -> tuple[float, float]:
        """Return the middle of the patch of a row, file units."""
        column, row = (int(self[name][index]) for name in ("column", "row"))
        half = self.side / 2
        return (column * self.side + half) / steps, (row * self.side + half) / steps


def join_rows(summaries: Mapping[str, PassSummary], plan: SwathPlan, cell_m: float) -> Rows | None:
    """Return the rows of all files with cells of one size; None where there are none."""
    cell = plan.steps.get(cell_m, 0)
    tables: list[dict[str, NDArray[np.generic]]] = []
    paths = tuple(sorted(summaries))
    level = side = 0
    for number, path in enumerate(paths):
        found = summaries[path].cells.get(cell)
        if found is None:
            continue
        level, side = max(level, summaries[path].level), plan.sizes[path].side
        table: dict[str, NDArray[np.generic]] = {name: getattr(found, name) for name in _JOINED}
        table["file"] = np.full(len(found.source), number, dtype=np.int32)
        table["height_m"] = found.height * plan.sizes[path].z_m
        tables.append(table)
    if not tables:
        return None

    def join(name: str) -> NDArray[np.generic]:
        return np.concatenate([table[name] for table in tables])

    # Column by column, so that no more than the table itself and a key are held.
    keys = ("file", "last", "first", "source", "cell", "row", "column")
    order = np.lexsort(tuple(join(name) for name in keys))
    ordered = {name: join(name)[order] for name in tables[0]}
    return Rows(ordered, paths, level, side, cell)


@dataclass(frozen=True)
class Pair:
    """Two swaths that saw some of the same cells; each array (n,), one a cell.

    Args:
        low, high: their point source ids; equal for two passes of one id.
        rows: row of the first in the table.
        others: row of the second.
        step_m: height of the second less that of the first, metres.
    """

    low: int
    high: int
    rows: Int64Array
    others: Int64Array
    step_m: Float64Array


def list_pairs(smooth: Rows) -> Iterator[Pair]:
    """Yield every pair of swaths in order of their ids; `smooth` holds surfaces only."""
    firsts: list[Int64Array] = []
    seconds: list[Int64Array] = []
    for ahead in range(1, _NEXT + 1):
        found = np.flatnonzero(smooth.is_same_cell(ahead) & smooth.is_other_pass(ahead))
        firsts.append(found)
        seconds.append(found + ahead)
    first, second = np.concatenate(firsts), np.concatenate(seconds)
    source = smooth["source"].astype(np.int64)
    height = smooth["height_m"].astype(np.float64)
    names = (source[first] << 16) | source[second]
    for name in np.unique(names).tolist():
        chosen = names == name
        a, b = first[chosen], second[chosen]
        yield Pair(name >> 16, name & 0xFFFF, a, b, height[b] - height[a])


def count_cells(rows: Rows) -> tuple[int, int]:
    """Return how many cells hold points, and how many of them those of two passes or more."""
    if not len(rows):
        return 0, 0
    _, again = find_again(rows)
    return len(again), int(np.count_nonzero(again))


def find_again(rows: Rows) -> tuple[Int64Array, BoolArray]:
    """Return the first row of each cell, and whether two passes or more have seen it, each (n,).

    Args:
        rows: at least one row.
    """
    same = rows.is_same_cell(1)
    number = np.concatenate([[0], np.cumsum(~same)])
    again = np.zeros(int(number[-1]) + 1, dtype=np.bool_)
    again[number[1:][same & rows.is_other_pass(1)]] = True
    return np.flatnonzero(np.concatenate([[True], ~same])), again
