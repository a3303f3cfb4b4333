"""How many cells of the footprint hold enough points, and where it is weakest."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from ledger.contract.rasters import Sheet
from ledger.dataclass import dataclass
from lidar_checks.cloud.block_grid import BLOCK, BlockKey, PackedBlock
from lidar_checks.cloud.footprint import BoolArray, CoverBits, compute_interior

OpenSheet = Callable[[tuple[int, int, int, int]], Sheet]

# Side of the squares among which the weakest is looked for, cells.
SQUARE = 8
_SQUARES = BLOCK // SQUARE


@dataclass(frozen=True)
class WeakSquare:
    """The square of cells that fails most.

    Args:
        failing: its cells with too few points.
        counted: points in its judged cells.
        cells: its judged cells.
        centre: column and row of its middle, in cells from the origin of the coordinates.
        path: the file with most points there; empty where none has any.
    """

    failing: int
    counted: int
    cells: int
    centre: tuple[int, int]
    path: str


@dataclass(frozen=True)
class Coverage:
    """The footprint's interior, counted.

    Args:
        cells: cells judged.
        meeting: cells with enough points.
        counted: points in them.
        weakest: where most cells fail; None when none does.
        sheet: points per cell in hundredths, ready to be drawn; None where no cell is judged.
    """

    cells: int
    meeting: int
    counted: int
    weakest: WeakSquare | None
    sheet: Sheet | None = None


def compute_coverage(
    files: Mapping[str, Mapping[BlockKey, PackedBlock]],
    need: int,
    radius: int,
    open_sheet: OpenSheet | None = None,
) -> Coverage:
    """Judge all files as one surface.

    Args:
        files: closed grids on the same cells, by path.
        need: points that a cell has to hold.
        radius: how wide a gap is closed, see `compute_interior`.
        open_sheet: makes an empty map of the judged cells; None for no map.
    """
    interior = Interior(files, radius)
    cells = meeting = counted = 0
    candidates: list[tuple[int, int, tuple[int, int], int]] = []
    sheet = open_sheet(interior.compute_extent()) if open_sheet is not None and interior else None
    for key, inside, counts in interior:
        if sheet is not None:
            rows, columns = np.nonzero(inside)
            hundredths = 100 * counts[inside]
            sheet.add(columns + key[0] * BLOCK, rows + key[1] * BLOCK, hundredths)
        failing = inside & (counts < need)
        cells += int(np.count_nonzero(inside))
        meeting += int(np.count_nonzero(inside & ~failing))
        counted += int(counts[inside].sum())
        if failing.any():
            candidates.append(_find_worst_square(key, inside, failing, counts))
    weakest = None
    if candidates:
        fails, total, centre, judged = min(candidates, key=lambda c: (-c[0], c[1], c[2]))
        weakest = WeakSquare(fails, total, judged, centre, _find_fullest(files, centre))
    return Coverage(cells, meeting, counted, weakest, sheet)


class Interior:
    """The cells of all files together that lie off the rim, with their counts.

    Kept as small as the files are; counts are added up block by block, each time they are gone
    through.
    """

    def __init__(self, files: Mapping[str, Mapping[BlockKey, PackedBlock]], radius: int) -> None:
        """Find the cells.

        Args:
            files: closed grids on the same cells, by path.
            radius: how wide a gap is closed, see `compute_interior`.
        """
        self._stacked = _stack_blocks(files)
        occupied = CoverBits({key: _join_cover(each) for key, each in self._stacked.items()})
        self._inside = CoverBits(
            {key: np.packbits(inside) for key, inside in compute_interior(occupied, radius)}
        )

    def __len__(self) -> int:
        """Return the number of blocks."""
        return len(self._inside)

    def __iter__(self) -> Iterator[tuple[BlockKey, BoolArray, NDArray[np.int64]]]:
        """Yield blocks, their cells off the rim, and the counts of all files, in order."""
        for key, inside in self._inside.items():
            yield key, inside, _add_counts(self._stacked[key])

    def compute_extent(self) -> tuple[int, int, int, int]:
        """Return least column and row, greatest column and row; there has to be a block."""
        return compute_extent(self._inside)


def _stack_blocks(
    files: Mapping[str, Mapping[BlockKey, PackedBlock]],
) -> dict[BlockKey, list[PackedBlock]]:
    stacked: defaultdict[BlockKey, list[PackedBlock]] = defaultdict(list)
    for path in sorted(files):
        for key, block in files[path].items():
            stacked[key].append(block)
    return stacked


def compute_extent(blocks: Iterable[BlockKey]) -> tuple[int, int, int, int]:
    """Return least column and row, greatest column and row of the cells of some blocks."""
    across, up = zip(*blocks, strict=True)
    return (
        min(across) * BLOCK,
        min(up) * BLOCK,
        (max(across) + 1) * BLOCK - 1,
        (max(up) + 1) * BLOCK - 1,
    )


def _join_cover(blocks: Sequence[PackedBlock]) -> NDArray[np.uint8]:
    covered = blocks[0].occupied
    for block in blocks[1:]:
        covered = covered | block.occupied
    return covered


def _add_counts(blocks: Sequence[PackedBlock]) -> NDArray[np.int64]:
    counts = np.zeros((BLOCK, BLOCK), dtype=np.int64)
    for block in blocks:
        counts += block.counts
    return counts


def _find_worst_square(
    key: BlockKey, inside: BoolArray, failing: BoolArray, counts: NDArray[np.int64]
) -> tuple[int, int, tuple[int, int], int]:
    """Return failing cells, points, middle and judged cells of the worst square of a block."""
    fails = _sum_squares(failing.astype(np.int64))
    totals = _sum_squares(np.where(inside, counts, 0))
    worst = min(range(fails.size), key=lambda i: (-int(fails.flat[i]), int(totals.flat[i]), i))
    row, column = divmod(worst, _SQUARES)
    centre = (
        key[0] * BLOCK + column * SQUARE + SQUARE // 2,
        key[1] * BLOCK + row * SQUARE + SQUARE // 2,
    )
    judged = int(_sum_squares(inside.astype(np.int64)).flat[worst])
    return int(fails.flat[worst]), int(totals.flat[worst]), centre, judged


def _sum_squares(cells: NDArray[np.int64]) -> NDArray[np.int64]:
    squares: NDArray[np.int64] = cells.reshape(_SQUARES, SQUARE, _SQUARES, SQUARE).sum(axis=(1, 3))
    return squares


def _find_fullest(
    files: Mapping[str, Mapping[BlockKey, PackedBlock]], centre: tuple[int, int]
) -> str:
    key = (centre[0] // BLOCK, centre[1] // BLOCK)
    row = centre[1] % BLOCK - SQUARE // 2
    column = centre[0] % BLOCK - SQUARE // 2
    best, most = "", 0
    for path in sorted(files):
        block = files[path].get(key)
        if block is not None:
            part = block.unpack_occupied()[row : row + SQUARE, column : column + SQUARE]
            if np.count_nonzero(part) > most:
                best, most = path, int(np.count_nonzero(part))
    return best
