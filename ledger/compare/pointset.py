"""The points of two sets of files, read once and held against each other.

Invariants:

- Every point is decoded once; a file that cannot be read whole ends the comparison.
- That sets are equal is said by the fingerprint alone, two lanes, of all points together.
- Memory is bounded: sums by cell, a sample of pulses, and hashes spilled to disk.
"""

from __future__ import annotations

import tempfile
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import replace
from pathlib import Path

import numpy as np

from ledger.compare.celltally import CellTally, Grid, make_grid
from ledger.compare.partners import Spill, count_partners
from ledger.compare.pulsesample import PulseSample
from ledger.compare.setresult import PointDifference
from ledger.compare.surface import compare_heights, compare_pulses, list_cells
from ledger.crs import read_crs
from ledger.dataclass import dataclass
from ledger.errors import UnwritableFileError
from ledger.fingerprint import DIMENSIONS, Fingerprint, combine, hash_points, make_constant, mix
from ledger.lattice import DEGREE_LATTICE, choose_common_lattice
from ledger.model.artefact import FingerprintValue
from ledger.model.ask import Progress
from ledger.model.chunk import Lattice, PointChunk
from ledger.model.header import LasHeader
from ledger.points import read_points
from ledger.pointwords import list_fields

_MASK = (1 << 64) - 1
# Metres in a degree along a meridian, rounded: tells apart millimetres and metres, no more.
_DEGREE_M = 111_000.0


@dataclass(frozen=True)
class PointFile:
    """One file whose points are read.

    Args:
        name: relative to its side.
        place: where it lies.
        header: what its header says.
    """

    name: str
    place: Path
    header: LasHeader


@dataclass(frozen=True)
class PointSets:
    """What reading both sides gave.

    Args:
        first: fingerprint of each file of the first side, by name.
        second: the same of the second.
        difference: how the points differ; None where they do not.
    """

    first: Mapping[str, FingerprintValue]
    second: Mapping[str, FingerprintValue]
    difference: PointDifference | None


class _SideTally:
    """Everything that is kept of the points of one side."""

    def __init__(self, lattice: Lattice, grid: Grid, spill: Spill) -> None:
        self.lattice = lattice
        self.cells = CellTally(grid)
        self.pulses = PulseSample()
        self.spill = spill
        self.fields: dict[str, int] = {}
        self.classes: Counter[int] = Counter()
        self.values: dict[str, FingerprintValue] = {}

    def read(self, file: PointFile, progress: Progress) -> None:
        """Read the points of one file; see `read_points` for what it raises."""
        fingerprint = Fingerprint(self.lattice)
        for chunk in read_points(
            file.place, file.header, self.lattice, DIMENSIONS, progress, parallel=True
        ):
            fingerprint.add(chunk)
            self._add(chunk)
        self.values[file.name] = fingerprint.value()

    def _add(self, chunk: PointChunk) -> None:
        hashes = hash_points(chunk)
        geometry, full = hashes["geometry"], hashes["full"]
        self.spill.add(geometry, full)
        self.cells.add(chunk, geometry, full)
        self.pulses.add(chunk)
        for code, count in enumerate(np.bincount(chunk["classification"], minlength=1)):
            if count:
                self.classes[code] += int(count)
        for name, values in list_fields(chunk):
            if not values.any():  # as good as absent, in any point format
                continue
            key = np.uint64(make_constant(f"field {name}", 0))
            # A zero adds nothing, so that a slice that is zero throughout may be passed over.
            told = mix(geometry + values.astype(np.uint64) * key) - mix(geometry)
            total = self.fields.get(name, 0) + int(np.add.reduce(told))
            self.fields[name] = total & _MASK


def read_sets(
    first: Sequence[PointFile],
    second: Sequence[PointFile],
    scratch: Path | None,
    progress: Progress,
) -> PointSets:
    """Read the points of both sides and return how they differ.

    Args:
        first: files of the first side.
        second: files of the second.
        scratch: folder of things that may be lost; None for that of the system.
        progress: told the points read.

    Raises:
        FileError: a file cannot be read whole, or there is no room for what is kept meanwhile.
    """
    headers = [file.header for file in (*first, *second)]
    lattice = choose_common_lattice(headers)
    grid = make_grid(headers, lattice)
    with _make_folder(scratch) as folder, ExitStack() as stack:
        sides = []
        progress.start("comparing points", sum(each.point_count for each in headers), "points")
        for name, files in (("first", first), ("second", second)):
            expected = sum(file.header.point_count for file in files)
            spill = stack.enter_context(Spill(folder / name, expected))
            side = _SideTally(lattice, grid, spill)
            for file in files:
                side.read(file, progress)
            spill.close()
            sides.append(side)
        difference = _compare(sides[0], sides[1], headers)
        progress.finish()
    return PointSets(sides[0].values, sides[1].values, difference)


@contextmanager
def _make_folder(scratch: Path | None) -> Iterator[Path]:
    try:
        made = tempfile.TemporaryDirectory("", "compare-", scratch, ignore_cleanup_errors=True)
    except OSError as error:
        raise UnwritableFileError(
            "there is no room to compare the points in",
            found=error.strerror or str(error),
            where=str(scratch or tempfile.gettempdir()),
        ) from error
    with made as folder:
        yield Path(folder)


def _combine(side: _SideTally) -> FingerprintValue:
    none = Fingerprint(side.lattice).value()
    return combine([none, *side.values.values()])


def _compare(
    first: _SideTally, second: _SideTally, headers: Sequence[LasHeader]
) -> PointDifference | None:
    one, two = _combine(first), _combine(second)
    if (one.count, one.full) == (two.count, two.full):
        return None
    partners = count_partners(first.spill, second.spill)
    moved = (one.count, one.geometry) != (two.count, two.geometry)
    stated = _find_units(headers, first.lattice)
    # Feet that are taken for metres are held against gates that are stricter than meant.
    units = tuple(unit or 1.0 for unit in stated)
    cell_count, cells = list_cells(first.cells, second.cells, by_place=moved)
    names = sorted({*first.fields, *second.fields})
    differing = (name for name in names if first.fields.get(name, 0) != second.fields.get(name, 0))
    steps = (first.lattice.steps_xy, first.lattice.steps_xy, first.lattice.steps_z)
    found = PointDifference(
        only_first=one.count - partners.places,
        only_second=two.count - partners.places,
        altered=partners.places - partners.points,
        fields=() if moved else tuple(differing),
        classes={
            code: (first.classes[code], second.classes[code])
            for code in sorted({*first.classes, *second.classes})
            if first.classes[code] != second.classes[code]
        },
        cell_count=cell_count,
        cells=cells,
        cell_size=first.cells.grid.step / first.lattice.steps_xy,
    )
    if not found.only_first or not found.only_second:  # points came or went, and none moved
        return found
    heights = compare_heights(first.cells, second.cells, units[2])
    return replace(
        found,
        heights=replace(heights, unit_stated=bool(stated[2])),
        pulses=compare_pulses(first.pulses, second.pulses, steps, units),
    )


def _find_units(headers: Sequence[LasHeader], lattice: Lattice) -> tuple[float, float, float]:
    """Return metres in a unit of X, Y and Z; 0 where no header says.

    A unit of X and Y says nothing of heights: files with feet across and metres up are common.
    """
    flat = _DEGREE_M if lattice == DEGREE_LATTICE else 0.0
    high = 0.0
    for header in headers:
        crs = read_crs(header).governing.crs
        if crs is not None:
            flat = flat or crs.metres_per_unit or 0.0
            vertical = crs.vertical.metres_per_unit if crs.vertical is not None else None
            high = high or vertical or 0.0
    return flat, flat, high
