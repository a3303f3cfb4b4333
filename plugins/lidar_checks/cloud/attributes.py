"""What the points of a file carry beside their places, counted once for all checks that judge it.

Whole numbers only: how often each combination occurs. Classes and flags are counted together,
since what matters is which class has which flag.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

import numpy as np
from numpy.typing import NDArray

from ledger.contract.check import Family, Plan, PointChunk, Tally
from ledger.contract.evidence import DeliveredFile, Evidence
from ledger.dataclass import dataclass

SIDE = 16
"""Return numbers and numbers of returns have four bits each (point formats 6 to 10)."""

FLAGS = ("synthetic", "key_point", "withheld", "overlap")
"""In the order of their bits (ASPRS LAS 1.4 R15, table 16)."""

_CODES = 256
_ANGLES = 1 << 16
_ZERO = 1 << 15
_RANK, _ANGLE = "scan_angle_rank", "scan_angle"

Int64Array = NDArray[np.int64]
ReturnTable = tuple[tuple[int, ...], ...]


@dataclass(frozen=True)
class AttributeSummary:
    """What the points of one file carry.

    Args:
        points: points read.
        returns: how often each pair occurs; row is the return number, column the number of returns.
        classes: how often each class occurs with each set of flags, by class code + 256 times the
            bits of the flags.
        angles: how often each stored scan angle occurs; empty where none was decoded.
        has_overlap_flag: whether the point format has one.
    """

    points: int
    returns: ReturnTable
    classes: Mapping[int, int]
    angles: Mapping[int, int]
    has_overlap_flag: bool

    @property
    def histogram(self) -> dict[int, int]:
        """Return the class codes that occur, with their counts."""
        return self.count_classes(lambda _flags: True)

    def count_flagged(self, flag: str) -> dict[int, int]:
        """Return the class codes of the points with a flag, with their counts."""
        bit = 1 << FLAGS.index(flag)
        return self.count_classes(lambda flags: bool(flags & bit))

    def count_classes(self, wanted: Callable[[int], bool]) -> dict[int, int]:
        """Return the class codes of the points whose bits of flags are wanted."""
        found: dict[int, int] = {}
        for key in sorted(self.classes, key=lambda each: (each % _CODES, each)):
            flags, code = divmod(key, _CODES)
            if wanted(flags):
                found[code] = found.get(code, 0) + self.classes[key]
        return found


class AttributeTally:
    """How often each attribute occurs in one file."""

    def __init__(self) -> None:
        """Start with none."""
        self.points = 0
        # By class code and pair of return numbers, of points without a flag.
        self.plain: Int64Array = np.zeros(_CODES * SIDE * SIDE, dtype=np.int64)
        # The same of points with flags, by their bits; most files have none.
        self.flagged: dict[int, Int64Array] = {}
        self.angles: Int64Array | None = None
        self.has_overlap_flag = False

    def chunk(self, points: PointChunk) -> None:
        """Count the attributes of some points."""
        self.points += len(points)
        number, total, codes = (
            points[name].astype(np.uint8, copy=False)
            for name in ("return_number", "number_of_returns", "classification")
        )
        # Eight bits of class and four each of the return numbers; products, since bytes are
        # multiplied faster than shifted (measured).
        key = codes * np.uint16(_CODES)
        key += number * np.uint8(SIDE) + total
        marks = _mark(points)
        if marks is not None:
            for bits in np.flatnonzero(np.bincount(marks)).tolist():
                self._add_marked(bits, np.bincount(key[marks == bits], minlength=len(self.plain)))
        else:
            counts = np.bincount(key)
            self.plain[: len(counts)] += counts
        self.has_overlap_flag |= "overlap" in points.names
        self._add_angles(points)

    def _add_marked(self, bits: int, counts: Int64Array) -> None:
        if bits:
            counts = counts + self.flagged.get(bits, 0)
            self.flagged[bits] = counts
        else:
            self.plain += counts

    def merge(self, other: AttributeTally) -> None:
        """Add the counts of another part of the same file."""
        self.points += other.points
        self.plain += other.plain
        for bits, counts in other.flagged.items():
            self._add_marked(bits, counts)
        self.has_overlap_flag |= other.has_overlap_flag
        if self.angles is None:
            self.angles = None if other.angles is None else other.angles.copy()
        elif other.angles is not None:
            self.angles += other.angles

    def close(self) -> AttributeSummary:
        """Keep what occurs."""
        tables = {0: self.plain, **self.flagged}
        everything = np.sum(list(tables.values()), axis=0)
        rows = everything.reshape(_CODES, SIDE, SIDE).sum(axis=0).tolist()
        classes: dict[int, int] = {}
        for bits in sorted(tables):
            found = _list_counts(tables[bits].reshape(_CODES, SIDE * SIDE).sum(axis=1), 0)
            classes.update((bits * _CODES + code, count) for code, count in found.items())
        angles = {} if self.angles is None else _list_counts(self.angles, _ZERO)
        return AttributeSummary(
            self.points,
            tuple(tuple(row) for row in rows),
            classes,
            angles,
            self.has_overlap_flag,
        )

    def _add_angles(self, points: PointChunk) -> None:
        name = _ANGLE if _ANGLE in points.names else _RANK
        if name not in points.names or not len(points):
            return
        angles = points[name].astype(np.int16, copy=False)
        low = int(angles.min())
        # Numbers of 16 bits wrap round, so that the distance from the least is right.
        counts = np.bincount(angles.view(np.uint16) - np.uint16(low & (_ANGLES - 1)))
        if self.angles is None:
            self.angles = np.zeros(_ANGLES, dtype=np.int64)
        self.angles[low + _ZERO : low + _ZERO + len(counts)] += counts


def _mark(points: PointChunk) -> NDArray[np.uint8] | None:
    """Return the bits of the flags of each point; None where no point has any."""
    marks: NDArray[np.uint8] | None = None
    for bit, flag in enumerate(FLAGS):
        if flag in points.names and points[flag].any():
            part = points[flag].astype(np.uint8) << np.uint8(bit)
            marks = part if marks is None else marks | part
    return marks


def _list_counts(counts: Int64Array, zero: int) -> dict[int, int]:
    places = np.flatnonzero(counts)
    return dict(zip((places - zero).tolist(), counts[places].tolist(), strict=True))


class AttributeFamily(Family):
    """One count of attributes a file."""

    id = "attributes"
    dimensions = frozenset({"classification", "return_number", "number_of_returns", "withheld"})
    optional_dimensions = frozenset({"synthetic", "key_point", "overlap", _ANGLE, _RANK})

    def prepare(self, evidence: Evidence, members: Mapping[str, Plan]) -> Plan:
        """Return a plan with nothing in it: everything is counted."""
        return Plan(next(iter(members.values())).criteria, evidence.lattice)

    def start(self, plan: Plan, file: DeliveredFile) -> Tally:  # noqa: ARG002 - the contract's
        """Return an empty count."""
        return AttributeTally()
