"""Tables of surveyed points as people have them: what was understood, never guessed in silence.

Light: no library beyond the standard one.
"""

from __future__ import annotations

import csv
from collections import Counter
from dataclasses import dataclass
from pathlib import Path

from ledger.errors import MalformedFileError, UnreadableFileError

_SEPARATORS = {"\t": "tab", ";": "semicolon", ",": "comma"}
_LARGEST_BYTES = 16 * 1024 * 1024
_MOST_COMMENTS = 40
_LONGEST_COMMENT = 200

# Column names of the trade, lower case, by what they hold. Common practice, no source.
_NAMES = {
    "id": ("id", "point", "name", "pt", "no", "number", "point_id", "label"),
    "easting": ("e", "easting", "east", "x", "x_m", "e_m"),
    "northing": ("n", "northing", "north", "y", "y_m", "n_m"),
    "height": ("h", "height", "z", "elevation", "elev", "z_m", "h_m", "height_m"),
}


@dataclass(frozen=True)
class TableFacts:
    """What a table of points says.

    Args:
        rows: rows that hold a point.
        separator: `comma`, `semicolon` or `tab`.
        columns: names of the columns; empty when the table has none.
        understood: meaning (`id`, `easting`, `northing`, `height`) by column name.
        comments: first comment lines, where people declare frame, vertical datum and unit.
        skipped: rows with another number of columns.
    """

    rows: int
    separator: str
    columns: tuple[str, ...]
    understood: dict[str, str]
    comments: tuple[str, ...]
    skipped: int

    @property
    def is_point_table(self) -> bool:
        """Say whether easting, northing and height were all recognised by name."""
        return {"easting", "northing", "height"} <= set(self.understood)


def read_point_table(path: Path) -> TableFacts:
    """Read a table of points.

    Raises:
        UnreadableFileError: the system refused.
        MalformedFileError: it is not text, or has no columns.
    """
    text = _read_text(path)
    lines = [line for line in text.splitlines() if line.strip()]
    comments = [line.strip() for line in lines if line.lstrip().startswith("#")]
    body = [line for line in lines if not line.lstrip().startswith("#")]
    separator = _find_separator(body)
    if separator is None:
        raise MalformedFileError("this is not a table of points", where=str(path))
    try:
        rows = list(csv.reader(body, delimiter=separator))
    except csv.Error as error:  # a cell of more than 131,072 characters
        raise MalformedFileError(
            "this is not a table of points", found=str(error), where=str(path)
        ) from error
    width = Counter(len(row) for row in rows).most_common(1)[0][0]
    header = tuple(cell.strip() for cell in rows[0]) if _is_header(rows[0]) else ()
    points = rows[1:] if header else rows
    return TableFacts(
        rows=sum(len(row) == width for row in points),
        separator=_SEPARATORS[separator],
        columns=header,
        understood=_understand(header),
        comments=tuple(line[:_LONGEST_COMMENT] for line in comments[:_MOST_COMMENTS]),
        skipped=sum(len(row) != width for row in points),
    )


def _read_text(path: Path) -> str:
    try:
        if path.stat().st_size > _LARGEST_BYTES:
            raise MalformedFileError("too large for a table of points", where=str(path))
        content = path.read_bytes()
    except OSError as error:
        raise UnreadableFileError(
            "the file cannot be read", found=error.strerror or str(error), where=str(path)
        ) from error
    if b"\x00" in content and not content.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise MalformedFileError("this is not a table of points", where=str(path))
    for encoding in ("utf-16" if content[:2] in (b"\xff\xfe", b"\xfe\xff") else "utf-8-sig",):
        try:
            return content.decode(encoding)
        except UnicodeDecodeError:
            break
    return content.decode("cp1252", "replace")


def _find_separator(lines: list[str]) -> str | None:
    for separator in _SEPARATORS:
        if lines and all(line.count(separator) >= 2 for line in lines[:20]):
            return separator
    return None


def _is_header(row: list[str]) -> bool:
    return not any(_is_number(cell) for cell in row[1:])


def _is_number(cell: str) -> bool:
    try:
        float(cell.strip().replace(",", "."))
    except ValueError:
        return False
    return True


def _understand(header: tuple[str, ...]) -> dict[str, str]:
    understood: dict[str, str] = {}
    for column in header:
        bare = column.lower().replace(" ", "_").split("(")[0].strip("_")
        for meaning, names in _NAMES.items():
            if bare in names and meaning not in understood:
                understood[meaning] = column
    return understood
