"""The text of a table taken apart: comment lines, header, rows of cells, and how it was separated.

Spreadsheets, field software and notepads write commas, semicolons, tabs or blanks between the
columns, in any encoding, with a header or none. Tabs and semicolons, which no number holds, part
the columns wherever they leave two numbers a row; else the separator is the one with which most
cells are numbers. Nothing else is concluded here.
"""

from __future__ import annotations

import csv
import re
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

from ledger.dataclass import dataclass
from ledger.errors import MalformedFileError, UnreadableFileError
from ledger.fixity import look_at

# In order: of two that part the numbers equally well, the first.
_SEPARATORS = {"\t": "tab", ";": "semicolon", ",": "comma", " ": "blanks"}
_LARGEST_BYTES = 16 * 1024 * 1024
_COMMENT_MARKS = ("#", "//", "%", "!", "*")
_LOOKED_AT = 50
FEWEST_COLUMNS = 3
_NUMBERS_OF_A_PLACE = 2
# The first bytes of every SQLite file, and so of a GeoPackage (OGC 12-128, requirement 2).
_DATABASE_START = b"SQLite format 3\0"
_WIDE_MARKS = (b"\xff\xfe", b"\xfe\xff")

# A number in any hand; marks between thousands too, which are refused later, by name.
_NUMBER_LIKE = re.compile(
    r"[+\-\u2212]?(?:\d+(?:[.,]\d*)?|[.,]\d+|\d{1,3}(?:[.,' \u00a0\u2009\u202f\u2019]\d{3})+"
    r"(?:[.,]\d*)?)(?:[eE][+-]?\d{1,2})?"
)


@dataclass(frozen=True)
class Row:
    """One row of cells.

    Args:
        line: line of the file, from 1.
        cells: without blanks and quotes round them.
    """

    line: int
    cells: tuple[str, ...]


@dataclass(frozen=True)
class TableText:
    """A table taken apart.

    Args:
        separator: `comma`, `semicolon`, `tab` or `blanks`.
        columns: names of the columns as written; empty when it has no header.
        header_line: line of the header; 0 for none.
        width: number of columns.
        rows: the rows of that width.
        other: the rows of another width.
        comments: comment lines as written, with their line.
    """

    separator: str
    columns: tuple[str, ...]
    header_line: int
    width: int
    rows: tuple[Row, ...]
    other: tuple[Row, ...]
    comments: tuple[tuple[int, str], ...]

    def name_column(self, index: int) -> str:
        """Return what a column is called: its name, or `column 3` where it has none of its own."""
        if index < len(self.columns) and self.columns[index]:
            name = self.columns[index]
            if sum(each == name for each in self.columns) == 1:
                return name
        return f"column {index + 1}"

    @property
    def names(self) -> tuple[str, ...]:
        """Return what the columns are called, in order."""
        return tuple(self.name_column(index) for index in range(self.width))


def read_text(path: Path) -> str:
    """Return the text of a table, whatever wrote it.

    Raises:
        UnreadableFileError: the system refused, or it is no regular file.
        MalformedFileError: it is too large, or no text.
    """
    try:
        if look_at(path).st_size > _LARGEST_BYTES:
            raise MalformedFileError("too large for a table of points", where=str(path))
        content = path.read_bytes()
    except OSError as error:
        raise UnreadableFileError(
            "the file cannot be read", found=error.strerror or str(error), where=str(path)
        ) from error
    return decode_text(content, str(path))


def decode_text(content: bytes, where: str) -> str:
    """Return bytes as text: UTF-8, UTF-16 with its mark, else Windows code page 1252.

    Raises:
        MalformedFileError: it is no text.
    """
    if content.startswith(_DATABASE_START):
        raise MalformedFileError(
            "this is a database and not a text",
            found="a GeoPackage or another SQLite file",
            expected="a table as CSV, or GeoJSON points",
            where=where,
            remedy="export its points as CSV or GeoJSON",
        )
    is_wide = content.startswith(_WIDE_MARKS)
    if b"\x00" in content and not is_wide:
        raise MalformedFileError(
            "this is not a table of points",
            found="bytes that are no text",
            where=where,
            remedy="export the points as CSV",
        )
    try:
        text = content.decode("utf-16" if is_wide else "utf-8-sig")
    except UnicodeDecodeError:
        text = content.decode("cp1252", "replace")
    if "\x00" in text:
        raise MalformedFileError(
            "this is not a table of points",
            found="bytes that are no text",
            where=where,
            remedy="export the points as CSV",
        )
    return text


def take_apart(text: str, where: str) -> TableText:
    """Return the rows of a table.

    Raises:
        MalformedFileError: it has no columns.
    """
    # Not splitlines(), which breaks at form feeds and other marks inside a cell, too.
    lines = list(enumerate(re.split(r"\r\n|\r|\n", text), start=1))
    comments = tuple((n, line.strip()) for n, line in lines if _is_comment(line))
    body = [(n, line) for n, line in lines if line.strip() and not _is_comment(line)]
    separator = _choose_separator([line for _, line in body[:_LOOKED_AT]])
    if separator is None:
        raise MalformedFileError(
            "this is not a table of points",
            found="no three columns" if body else "no rows",
            expected="easting, northing and height, parted by tabs, semicolons, commas or blanks",
            where=where,
            remedy="export the points as CSV",
        )
    try:
        rows = _drop_last_blanks([Row(n, _split(line, separator)) for n, line in body])
    except csv.Error as error:  # a cell of more than 131,072 characters
        raise MalformedFileError(
            "this is not a table of points", found=str(error), where=where
        ) from error
    header = _find_header(rows, comments, separator)
    points = rows[1:] if header is not None and header in rows else rows
    width = Counter(len(row.cells) for row in points or rows).most_common(1)[0][0]
    return TableText(
        separator=_SEPARATORS[separator],
        columns=() if header is None else header.cells,
        header_line=0 if header is None else header.line,
        width=width,
        rows=tuple(row for row in points if len(row.cells) == width),
        other=tuple(row for row in points if len(row.cells) != width),
        comments=comments,
    )


def _is_comment(line: str) -> bool:
    bare = line.lstrip().lstrip('"')
    # A semicolon begins a comment where no other follows: a row of three columns has two.
    return bare.startswith(_COMMENT_MARKS) or (bare.startswith(";") and bare.count(";") == 1)


def _choose_separator(lines: list[str]) -> str | None:
    """Return the separator of the rows; None without columns.

    With names such as `C 01` blanks part more numbers than the tabs that are meant.
    """
    best, most = None, -1
    for separator in _SEPARATORS:
        try:
            split = [_split(line, separator) for line in lines]
        except csv.Error:
            continue
        widths = Counter(len(cells) for cells in split)
        if not widths:
            continue
        width, count = widths.most_common(1)[0]
        if width < FEWEST_COLUMNS or 2 * count < len(lines):
            continue
        numbers = sum(is_number_like(cell) for cells in split for cell in cells)
        if separator in "\t;" and numbers >= _NUMBERS_OF_A_PLACE * (count - 1) > 0:
            return separator
        if separator == " " and numbers < count:  # a note in words has blanks, too
            continue
        if numbers > most:
            best, most = separator, numbers
    return best


def _drop_last_blanks(rows: list[Row]) -> list[Row]:
    """Return rows without their last cell where it is blank in all: a separator ends each line."""
    if any(len(row.cells) < 2 or row.cells[-1] for row in rows):
        return rows
    return [Row(row.line, row.cells[:-1]) for row in rows]


def _split(line: str, separator: str) -> tuple[str, ...]:
    if separator == " ":
        cells = re.findall(r'"[^"]*"|\S+', line)
    else:
        (cells,) = csv.reader([line], delimiter=separator, skipinitialspace=True)
    return tuple(cell.strip().strip('"').strip() for cell in cells)


def is_number_like(cell: str) -> bool:
    """Say whether a cell is a number in somebody's hand, marks between thousands included."""
    return _NUMBER_LIKE.fullmatch(cell.strip()) is not None


def _find_header(
    rows: list[Row], comments: tuple[tuple[int, str], ...], separator: str
) -> Row | None:
    """Return the header: a first row without numbers, or a comment line laid out like the rows."""
    if rows and not any(is_number_like(cell) for cell in rows[0].cells[1:]):
        return rows[0]
    for line, text in reversed(comments):
        bare = text.lstrip('"').lstrip("".join(_COMMENT_MARKS)).strip()
        cells = _split(bare, separator) if bare and ":" not in bare and "=" not in bare else ()
        fits = bool(rows) and len(cells) == len(rows[0].cells) and line < rows[0].line
        if fits and not any(map(is_number_like, cells)):
            return Row(line, cells)
    return None


def list_cells(table: TableText, index: int) -> Iterator[tuple[Row, str]]:
    """Yield the rows of a table and their cell in one column."""
    for row in table.rows:
        yield row, row.cells[index]
