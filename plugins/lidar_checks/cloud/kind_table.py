"""How many points of which kind, and of which source, each cell round a slice holds.

Kinds and sources of a point are joined to one small number, so that one count of the slice answers
all that is asked about cells of one size.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from ledger.dataclass import dataclass
from lidar_checks.cloud.slice_cells import SliceCells

BoolArray = NDArray[np.bool_]
# Counts, or True where there is any: both add up alike.
Plane = NDArray[np.int64] | BoolArray

# Cells are counted at once in a table no longer than this, and no more than so many times the
# points; marks take an eighth of the memory of counts (measured: beyond, sorting costs less).
_LONGEST, _FREE = 1 << 22, 1 << 16
_COUNTS_A_POINT, _MARKS_A_POINT = 16, 64


@dataclass(frozen=True)
class KindTable:
    """What the cells round a slice hold.

    Args:
        corner: first column and row.
        planes: cells by source, by set of kinds, row by row from the south; counts or marks.
        bits: the bit of each kind in the number of its sets; a kind that all points or none have
            needs none, and is True or False.
        sources: point source ids, ascending; one of no meaning where none was asked for.
    """

    corner: tuple[int, int]
    planes: NDArray[np.int64] | BoolArray
    bits: Mapping[str, int | bool]
    sources: tuple[int, ...]

    def add_up(self, kind: str, *, having: bool = True, source: int | None = None) -> Plane | None:
        """Return what each cell holds of the points that are, or are not, of a kind, (high, wide).

        Args:
            kind: the kind.
            having: points of the kind, or all others.
            source: place in `sources`; None for all.

        Returns:
            None where no point can be meant.
        """
        bit = self.bits[kind]
        sets = range(self.planes.shape[1])
        if isinstance(bit, bool):
            wanted = list(sets) if bit is having else []
        else:
            wanted = [each for each in sets if bool(each >> bit & 1) is having]
        places = range(len(self.sources)) if source is None else (source,)
        parts = [self.planes[place, each] for place in places for each in wanted]
        if len(parts) < 2:
            return parts[0] if parts else None
        total: Plane = parts[0] + parts[1]
        for part in parts[2:]:
            total += part
        return total


def count_kinds(
    cells: SliceCells,
    kinds: Mapping[str, BoolArray],
    source: NDArray[np.uint16] | None,
    *,
    exactly: bool,
) -> KindTable | None:
    """Return the table of a slice; None where its points lie too far apart for one.

    Args:
        cells: cells of the points.
        kinds: whether each point is of a kind, by kind, (n,).
        source: point source id of each point, (n,); None where it does not matter.
        exactly: counts are wanted, and not only marks.
    """
    points = len(cells.columns)
    bits, used = _choose_bits(kinds)
    sources = (0,) if source is None else _list_sources(source)
    sets = 1 << len(used)
    share = _COUNTS_A_POINT if exactly else _MARKS_A_POINT
    length = cells.size * sets * len(sources)
    if length > min(_LONGEST, _FREE + share * points):
        return None
    index = cells.number()
    code = _join_codes(used, source, sources)
    if code is not None:
        index += code.astype(index.dtype) * cells.size
    place = index.astype(np.int64, copy=False)
    planes: NDArray[np.int64] | BoolArray
    if exactly:
        planes = np.bincount(place, minlength=length)
    else:
        planes = np.zeros(length, dtype=np.bool_)
        planes[place] = True
    shape = (len(sources), sets, cells.high, cells.wide)
    return KindTable((cells.left, cells.bottom), planes.reshape(shape), bits, sources)


def _choose_bits(kinds: Mapping[str, BoolArray]) -> tuple[dict[str, int | bool], list[BoolArray]]:
    """Return the bit of each kind, or what it is for all points, and the kinds that need one."""
    bits: dict[str, int | bool] = {}
    used: list[BoolArray] = []
    for kind, mask in kinds.items():
        if mask.all() or not mask.any():
            bits[kind] = bool(mask[0])
        else:
            bits[kind] = len(used)
            used.append(mask)
    return bits, used


def _list_sources(source: NDArray[np.uint16]) -> tuple[int, ...]:
    low, high = int(source.min()), int(source.max())
    if low == high:
        return (low,)
    return tuple(np.flatnonzero(np.bincount(source)).tolist())


def _join_codes(
    used: Sequence[BoolArray], source: NDArray[np.uint16] | None, sources: Sequence[int]
) -> NDArray[np.unsignedinteger] | None:
    """Return the number of the plane of each point, (n,); None where all are in the first."""
    code: NDArray[np.unsignedinteger] | None = None
    if source is not None and len(sources) > 1:
        place = np.zeros(sources[-1] + 1, dtype=np.uint32)
        place[list(sources)] = np.arange(len(sources)) << len(used)
        code = place.take(source)
    for bit, mask in enumerate(used):
        part = mask.view(np.uint8) * np.uint8(1 << bit)
        code = part if code is None else code | part
    return code
