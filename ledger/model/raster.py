"""A small map that an audit keeps: how dense, what is missing, differences in height.

Values are whole multiples of a step, so that the same points give the same bytes everywhere.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ledger.dataclass import dataclass

MAX_SIDE = 512
"""Cells along a side, at most; with four bytes each a map stays under 1 MiB."""

NO_VALUE = int(np.iinfo(np.int32).min)
"""Stored where a cell has no value."""


@dataclass(frozen=True, eq=False)
class Raster:
    """Values by cell, in the coordinates of the delivery.

    Args:
        name: kebab case, unique within its check (`density`).
        title: what it shows, as a surveyor would say it.
        unit: unit of a value; empty for a mere number.
        step: value of one unit of what is stored, in `unit`.
        origin: X and Y of the lower left corner of the first cell, units of the files.
        cell: side of a cell, units of the files.
        values: int32, (rows, columns), southernmost row first; `NO_VALUE` where there is none.
        check: id of the check that drew it; filled in by the runner.
        cell_unit: symbol of the unit of X and Y (`m`, `ft`, `ftUS`), as the coordinate systems of
            the files say; empty where they do not, or not alike; filled in by the runner.
    """

    name: str
    title: str
    unit: str
    step: float
    origin: tuple[float, float]
    cell: float
    values: NDArray[np.int32]
    check: str = ""
    cell_unit: str = ""

    @property
    def content(self) -> bytes:
        """Return the values as the book keeps them: little-endian int32, row by row."""
        return self.values.astype("<i4").tobytes()

    @property
    def extremes(self) -> tuple[float, float] | None:
        """Return the least and the greatest value, in `unit`; None where there is none."""
        known = self.values[self.values != NO_VALUE]
        if not known.size:
            return None
        return float(known.min() * self.step), float(known.max() * self.step)
