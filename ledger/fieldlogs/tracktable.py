"""Trajectories as tables of text, in any order of columns, read in slices.

A line with another number of columns, or whose time is no time, is counted and left out. Values are
given as the file has them, in its units; what these are is for whoever knows how it was declared.
"""

from __future__ import annotations

import itertools
import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import field
from datetime import UTC, datetime
from pathlib import Path
from typing import IO

import numpy as np
from numpy.typing import NDArray

from ledger.dataclass import dataclass
from ledger.errors import MalformedFileError, UnreadableFileError
from ledger.fieldlogs.opening import open_text
from ledger.fieldlogs.series import (
    AGE,
    COLUMNS,
    HDOP,
    HEADING,
    HEIGHT,
    PDOP,
    PITCH,
    QUALITY,
    ROLL,
    SATELLITES,
    SIGMA,
    TIME,
    Gathered,
    SeriesBuilder,
    X,
    Y,
    have_times,
)
from ledger.fieldlogs.trackcolumns import Column
from ledger.fieldlogs.trackfacts import TrackLayout, find_layout, list_lines
from ledger.model.timescale import GPS_ORIGIN

_PLACES = {
    "time": TIME,
    "longitude": X,
    "east": X,
    "latitude": Y,
    "north": Y,
    "height": HEIGHT,
    "quality": QUALITY,
    "satellites": SATELLITES,
    "hdop": HDOP,
    "pdop": PDOP,
    "age": AGE,
    "sigma": SIGMA,
    "roll": ROLL,
    "pitch": PITCH,
    "heading": HEADING,
}
_SLICE = 20_000
_WORDS = {"fixed": 4.0, "fix": 4.0, "float": 5.0, "dgps": 2.0, "single": 1.0, "none": 0.0}
_TIME_OF_DAY = re.compile(r"^(\d{1,2}):(\d{2}):(\d{2}(?:\.\d+)?)$")


@dataclass(frozen=True, eq=False)
class TableTrack:
    """A trajectory as its table has it.

    Args:
        gathered: its epochs; see `ledger.fieldlogs.series` for the columns.
        columns: what was understood, by meaning.
        header: names of all columns.
        clock: what the times are: `number`, `moment` (date and time of day, then counted from the
            origin of GPS time) or `time of day` (seconds since midnight).
        zoned: moments state that they are UTC.
        bad: lines that were left out.
        qualities: epochs by fix quality as written, of those that are whole numbers.
    """

    gathered: Gathered
    columns: dict[str, Column]
    header: tuple[str, ...]
    clock: str
    zoned: bool
    bad: int
    qualities: dict[int, int] = field(default_factory=dict)

    @property
    def is_lonlat(self) -> bool:
        """Say whether places are longitudes and latitudes."""
        return "east" not in self.columns


def read_track_table(path: Path, declared: Mapping[str, str] | None = None) -> TableTrack:
    """Read a trajectory.

    Args:
        path: the file.
        declared: what somebody said of its columns, meaning to name or `column 3`.

    Raises:
        UnreadableFileError: the system refused.
        MalformedFileError: it has no header from which time and place are understood.
    """
    try:
        with open_text(path) as stream:
            return _read(stream, path, declared)
    except OSError as error:
        raise UnreadableFileError(
            "the file cannot be read", found=error.strerror or str(error), where=str(path)
        ) from error


def _read(stream: IO[bytes], path: Path, declared: Mapping[str, str] | None) -> TableTrack:
    lines = list_lines(stream)
    layout = find_layout(lines, declared)
    if layout is None:
        raise MalformedFileError(
            "no header of this table says which column is the time and which the place",
            expected="names such as time, easting, northing, height, or time, longitude, latitude",
            where=str(path),
            remedy="put a line with the names of the columns before the first row, in a copy",
        )
    reader = _Reader(layout)
    if any(_is_number(cell) for cell in layout.header):
        # Nobody named the columns in the file: what was read as names is its first row.
        reader.take([(layout.separator or " ").join(layout.header)])
    while piece := list(itertools.islice(lines, _SLICE)):
        reader.take(piece)
    return reader.close()


class _Reader:
    def __init__(self, layout: TrackLayout) -> None:
        self.layout = layout
        self.builder = SeriesBuilder()
        self.bad = 0
        self.clock = ""
        self.zoned = False
        self.qualities: dict[int, int] = {}

    def take(self, lines: Sequence[str]) -> None:
        """Take in some lines of the body."""
        rows = self._read_fast(lines)
        if rows is None:
            listed = [row for row in map(self._read_row, lines) if row is not None]
            rows = np.array(listed, dtype=np.float64).reshape(-1, COLUMNS)
        timed = have_times(rows)
        self.bad += int(len(rows) - timed.sum())
        rows = rows[timed]
        self._count_qualities(rows[:, QUALITY])
        self.builder.add(rows)

    def close(self) -> TableTrack:
        return TableTrack(
            gathered=self.builder.close(),
            columns=self.layout.columns,
            header=self.layout.header,
            clock=self.clock or "number",
            zoned=self.zoned,
            bad=self.bad,
            qualities=dict(sorted(self.qualities.items())),
        )

    def _read_fast(self, lines: Sequence[str]) -> NDArray[np.float64] | None:
        """Return the rows of lines that hold numbers alone; None where one of them does not."""
        separator = self.layout.separator
        text = (separator or " ").join(lines)
        if self.clock not in ("", "number") or not _NUMBERS.fullmatch(text):
            return None
        if separator == ";":
            text = text.replace(",", ".")
        width = self.layout.width
        if separator is not None and any(line.count(separator) != width - 1 for line in lines):
            return None
        try:
            numbers = np.fromstring(text, dtype=np.float64, sep=separator or " ")
        except (ValueError, DeprecationWarning):
            return None
        if len(numbers) != width * len(lines):
            return None
        self.clock = "number"
        table = numbers.reshape(-1, width)
        rows = np.full((len(lines), COLUMNS), np.nan)
        for meaning, column in self.layout.columns.items():
            rows[:, _PLACES[meaning]] = table[:, column.at]
        return rows

    def _read_row(self, line: str) -> list[float] | None:
        if line[0] in "#%":
            return None
        cells = self.layout.split(line)
        if len(cells) != self.layout.width:
            self.bad += 1
            return None
        row = [math.nan] * COLUMNS
        for meaning, column in self.layout.columns.items():
            cell = cells[column.at]
            if meaning == "time":
                row[TIME] = self._read_time(cell)
            elif meaning == "quality":
                row[QUALITY] = _WORDS.get(cell.lower(), _read_number(cell))
            else:
                row[_PLACES[meaning]] = _read_number(cell)
        return row

    def _read_time(self, cell: str) -> float:
        """Return a time as seconds; one of another kind than those before is none."""
        kind, seconds, zoned = _understand_time(cell)
        if kind and not self.clock:
            self.clock, self.zoned = kind, zoned
        return seconds if kind == self.clock else math.nan

    def _count_qualities(self, column: NDArray[np.float64]) -> None:
        whole = column[np.isfinite(column) & (column == np.rint(column)) & (np.abs(column) < 100)]
        for value, count in zip(*np.unique(whole, return_counts=True), strict=True):
            self.qualities[int(value)] = self.qualities.get(int(value), 0) + int(count)


_NUMBERS = re.compile(r"[-+0-9.eE,;\t ]*")


def _is_number(cell: str) -> bool:
    return not math.isnan(_read_number(cell))


def _read_number(cell: str) -> float:
    try:
        number = float(cell.replace(",", "."))
    except ValueError:
        return math.nan
    return number if math.isfinite(number) else math.nan


def _understand_time(cell: str) -> tuple[str, float, bool]:
    number = _read_number(cell)
    if not math.isnan(number):
        return "number", number, False
    match = _TIME_OF_DAY.match(cell)
    if match:
        hours, minutes, seconds = match.groups()
        return "time of day", int(hours) * 3600.0 + int(minutes) * 60 + float(seconds), False
    try:
        moment = datetime.fromisoformat(cell.replace("/", "-"))
    except ValueError:
        return "", math.nan, False
    zoned = moment.tzinfo is not None
    moment = moment if zoned else moment.replace(tzinfo=UTC)
    return "moment", (moment - GPS_ORIGIN).total_seconds(), zoned
