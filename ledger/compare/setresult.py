"""What differs between two sets of files, as plain records.

Gates: rerun against run, absolute mean of the height differences 0.005 m, 95th percentile 0.02 m,
count within 0.5 %, on stable cells (common practice, no source).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import field
from enum import StrEnum
from pathlib import PurePosixPath

from ledger.dataclass import dataclass
from ledger.model.artefact import RASTER_SUFFIXES
from ledger.model.weight import Weight

OTHER_BYTES = "other bytes"


class Grade(StrEnum):
    """How alike two sets of files are, best first."""

    IDENTICAL = "identical"
    SAME_POINTS = "same points"
    EQUIVALENT = "equivalent"
    DIFFERENT = "different"


class Change(StrEnum):
    """What is not alike, in the words of the screen and of JSON."""

    NOTHING = "nothing"
    NAMES = "names of files"
    TILING = "tiling or order"
    HEADER = "header"
    CRS_TEXT = "CRS text"
    CLASSES = "classes"
    FIELDS = "fields of points"
    ADDED = "points added"
    REMOVED = "points removed"
    MOVED = "points moved, added or removed"
    PROCESSING = "another processing"
    FILES = "files without points"


@dataclass(frozen=True)
class HeaderDifference:
    """One thing that headers say differently.

    Args:
        field: its name (`CRS text`, `scale`, `software` …).
        before: what those of the first set say, distinct values joined; `none` for none.
        after: the same of the second.
        weight: what it can do to the result.
        files: how many files of equal name differ in it; 0 where files cannot be paired by name.
        effect: what that means, where more can be said; empty otherwise.
    """

    field: str
    before: str
    after: str
    weight: Weight
    files: int = 0
    effect: str = ""


@dataclass(frozen=True)
class CellDifference:
    """One cell in which points came, went or moved.

    Args:
        x: easting or longitude of its middle, in units of the files.
        y: northing or latitude of its middle, the same.
        before: points of the first set in it.
        after: points of the second.
    """

    x: float
    y: float
    before: int
    after: int


@dataclass(frozen=True)
class Heights:
    """Height differences on stable cells, second less first.

    Args:
        cells: stable cells: enough points on both sides, and little spread in each.
        mean_m: mean of the differences of the cells' mean heights, metres; None without cells.
        p95_m: 95th percentile of their absolute values, metres; None without cells.
        before: points of the first set in these cells.
        after: points of the second.
        unit_stated: the files say in which unit heights are; else they were taken for metres.
    """

    cells: int
    mean_m: float | None = None
    p95_m: float | None = None
    before: int = 0
    after: int = 0
    unit_stated: bool = True


@dataclass(frozen=True)
class Pulses:
    """How far the same pulses lie apart: points paired by GPS time and return, second less first.

    Args:
        pairs: pairs in a sample of both sets.
        east_m: mean difference along X, metres; None without pairs.
        north_m: mean difference along Y, metres.
        up_m: mean difference of heights, metres.
    """

    pairs: int
    east_m: float | None = None
    north_m: float | None = None
    up_m: float | None = None


@dataclass(frozen=True)
class PointDifference:
    """How two sets of points differ; point for point, those of files alike on both sides left out.

    Args:
        only_first: points of the first set without a partner at the same place in the second.
        only_second: the same the other way.
        altered: points with a partner at the same place that has other fields.
        fields: names of the fields whose values differ over the sets, empty where places differ.
        classes: class code → number of points before and after, where that differs.
        cell_count: cells in which anything differs.
        cells: those in which most points came, went or moved, most first.
        cell_size: side of a cell, in units of the files.
        heights: on stable cells; None where no point changed its place.
        pulses: the same pulses of both; None where no point changed its place.
    """

    only_first: int
    only_second: int
    altered: int
    fields: tuple[str, ...] = ()
    classes: Mapping[int, tuple[int, int]] = field(default_factory=dict)
    cell_count: int = 0
    cells: tuple[CellDifference, ...] = ()
    cell_size: float = 0.0
    heights: Heights | None = None
    pulses: Pulses | None = None


@dataclass(frozen=True)
class OtherFile:
    """A file without points that is not alike on both sides.

    Args:
        name: relative to its side.
        state: `other bytes`, `only first` or `only second`.
    """

    name: str
    state: str

    @property
    def is_raster(self) -> bool:
        """Say whether it is a raster by its name."""
        return PurePosixPath(self.name).suffix.lower() in RASTER_SUFFIXES


@dataclass(frozen=True)
class SideFacts:
    """One of the two sets.

    Args:
        label: what was typed.
        files: number of files.
        points: number of points; None where there are no point files, or none had to be counted.
    """

    label: str
    files: int
    points: int | None = None


@dataclass(frozen=True)
class SetComparison:
    """Two sets of files, held against each other.

    Args:
        first: the first set.
        second: the second.
        grade: how alike they are.
        change: what is not alike.
        sentence: the answer in one sentence.
        headers: what headers say differently.
        points: how the points differ; None where they do not, or where that was not needed.
        others: files without points that differ.
        notes: what else has to be known to read the answer, one sentence each.
        points_read: points were decoded for this answer.
    """

    first: SideFacts
    second: SideFacts
    grade: Grade
    change: Change
    sentence: str
    headers: tuple[HeaderDifference, ...] = ()
    points: PointDifference | None = None
    others: tuple[OtherFile, ...] = ()
    notes: tuple[str, ...] = ()
    points_read: bool = False

    @property
    def is_same(self) -> bool:
        """Say whether bytes or points are the same, and lie at the same place on Earth.

        The same numbers under another coordinate system are another survey, and a height model that
        is on one side alone is a difference.
        """
        alike = self.grade in (Grade.IDENTICAL, Grade.SAME_POINTS)
        moved = any(each.weight is Weight.GEODETIC for each in self.headers)
        return alike and not moved and not any(other.is_raster for other in self.others)
