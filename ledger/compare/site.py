"""What this job's own records say of the place: where it lies, and how high the geoid is there."""

from __future__ import annotations

from decimal import Decimal

from ledger.crs import describe, to_lonlat
from ledger.errors import SwathbookError
from ledger.expected import Place, find_geoid_height
from ledger.gridfiles import find_grid_file
from ledger.model.known import KnownValue
from ledger.model.process import Process
from ledger.store.reading import Book

_THOUSANDTH = Decimal("0.001")


class Site:
    """The middle of what two runs made, and the geoids there.

    Args of the constructor:
        book: an open book.
        processes: the runs; the first output that says its box gives the place.
    """

    def __init__(self, book: Book, *processes: Process) -> None:
        """Look for the place; nothing is read yet."""
        self._book = book
        self._processes = processes

    def find_geoid_height(self, grid: KnownValue | None) -> Decimal | None:
        """Return the geoid height of a registered grid at the place, metres.

        None where there is no place, no grid file of these bytes, or no value there.

        Args:
            grid: value of a `geoid_file` field: a digest, with the path that it was seen at.
        """
        place = self._find_lonlat()
        path = None if grid is None else find_grid_file(self._book, str(grid.value), grid.where)
        if place is None or path is None:
            return None
        height = find_geoid_height(path, Place(*place)).value
        return None if height is None else Decimal(height).quantize(_THOUSANDTH)

    def find_northing(self) -> Decimal | None:
        """Return the northing of the place in the unit of its system; None where there is none."""
        box = self._find_box()
        return None if box is None else Decimal(box[1]).quantize(_THOUSANDTH)

    def _find_lonlat(self) -> tuple[float, float] | None:
        box, named = self._find_box(), self._find_crs()
        if box is None or named is None:
            return None
        try:
            return to_lonlat(describe(named), *box)
        except SwathbookError:
            return None

    def _find_box(self) -> tuple[float, float] | None:
        for process in self._processes:
            for output in process.outputs:
                low, high = output.file.facts.get("minimum"), output.file.facts.get("maximum")
                if low and high:
                    x, y = ((float(low[axis]) + float(high[axis])) / 2 for axis in (0, 1))
                    return x, y
        return None

    def _find_crs(self) -> str | None:
        values = (process.find_value("crs") for process in self._processes)
        return next((str(known.value) for known in values if known is not None), None)
