"""What a table of positions in time says of itself: names, rows, first and last time; no arrays.

Light: no library beyond the standard one.
"""

from __future__ import annotations

import csv
import itertools
from collections.abc import Iterator, Mapping
from contextlib import suppress
from pathlib import Path
from typing import IO

from ledger.dataclass import dataclass
from ledger.errors import UnreadableFileError
from ledger.fieldlogs.opening import open_text
from ledger.fieldlogs.trackcolumns import (
    Column,
    is_track,
    place_declared,
    understand_columns,
)

LONGEST_LINE = 4096
_MOST_COMMENTS = 200
_SEPARATORS = {",": "comma", ";": "semicolon", "\t": "tab", None: "blank"}


@dataclass(frozen=True)
class TrackLayout:
    """How a table is laid out.

    Args:
        separator: between cells; None for blanks.
        header: names of all columns.
        columns: what was understood, by meaning.
    """

    separator: str | None
    header: tuple[str, ...]
    columns: dict[str, Column]

    @property
    def width(self) -> int:
        """Return the number of columns."""
        return len(self.header)

    def split(self, line: str) -> list[str]:
        """Return the cells of a line."""
        return _split(line, self.separator)


@dataclass(frozen=True)
class TrackTableFacts:
    """What a trajectory says of itself.

    Args:
        rows: rows with as many cells as there are names.
        skipped: rows with another number of cells.
        separator: `comma`, `semicolon`, `tab` or `blank`.
        columns: names of the columns.
        understood: meaning by column name.
        begins: time of the first row, as written.
        ends: time of the last row, as written.
    """

    rows: int
    skipped: int
    separator: str
    columns: tuple[str, ...]
    understood: dict[str, str]
    begins: str
    ends: str


def list_lines(stream: IO[bytes]) -> Iterator[str]:
    """Yield the lines that are not blank, without what surrounds them."""
    is_first = True
    while raw := stream.readline(LONGEST_LINE):
        line = raw.decode("utf-8", "replace").strip()
        if is_first:
            line, is_first = line.removeprefix("\ufeff"), False
        if line:
            yield line


def find_layout(
    lines: Iterator[str], declared: Mapping[str, str] | None = None
) -> TrackLayout | None:
    """Return what the header tells; None where no names of a time and a place come first.

    Args:
        lines: of the table; taken from as far as the header reaches, and where there is none but
            somebody named the columns, one row further.
        declared: what somebody said of the columns; counts over their names.
    """
    for line in itertools.islice(lines, _MOST_COMMENTS):
        bare = line.lstrip("#%").strip()
        for separator in _SEPARATORS:
            header = _split(bare, separator)
            placed = place_declared(declared, header) if declared else {}
            columns = understand_columns(header) | (placed or {})
            if is_track(columns) and not (declared and not placed):
                return TrackLayout(separator, tuple(header), columns)
        if line[0] not in "#%":
            return None
    return None


def read_track_facts(path: Path) -> TrackTableFacts | None:
    """Read what a table says of itself; None where it is no table of positions in time.

    Raises:
        UnreadableFileError: the system refused.
    """
    try:
        with open_text(path) as stream:
            lines = list_lines(stream)
            layout = find_layout(lines)
            return None if layout is None else _count(layout, lines)
    except OSError as error:
        raise UnreadableFileError(
            "the file cannot be read", found=error.strerror or str(error), where=str(path)
        ) from error


def _count(layout: TrackLayout, lines: Iterator[str]) -> TrackTableFacts:
    rows = skipped = 0
    first = last = ""
    for line in lines:
        if line[0] in "#%":
            continue
        if len(layout.split(line)) != layout.width:
            skipped += 1
            continue
        rows += 1
        first = first or line
        last = line
    at = layout.columns["time"].at
    return TrackTableFacts(
        rows=rows,
        skipped=skipped,
        separator=_SEPARATORS[layout.separator],
        columns=layout.header,
        understood={name: column.name for name, column in sorted(layout.columns.items())},
        begins=layout.split(first)[at] if first else "",
        ends=layout.split(last)[at] if last else "",
    )


def _split(line: str, separator: str | None) -> list[str]:
    if separator is None:
        return line.split()
    cells = line.split(separator)
    if '"' in line:
        with suppress(csv.Error):  # a carriage return within the line, a cell without end
            cells = next(csv.reader([line], delimiter=separator))
    return [cell.strip() for cell in cells]
