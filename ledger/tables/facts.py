"""The short of a table of points, for who registers the file."""

from __future__ import annotations

from pathlib import Path

from ledger.dataclass import dataclass
from ledger.tables.columns import EAST, HEIGHT, NORTH, understand
from ledger.tables.rows import read_text, take_apart

_MOST_COMMENTS = 40
_LONGEST_COMMENT = 200
_FACTS = {"id": "id", EAST: "easting", NORTH: "northing", HEIGHT: "height"}


@dataclass(frozen=True)
class TableFacts:
    """What a table of points says.

    Args:
        rows: rows that hold a point.
        separator: `comma`, `semicolon`, `tab` or `blanks`.
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
    table = take_apart(read_text(path), str(path))
    known = understand(table)
    return TableFacts(
        rows=len(table.rows),
        separator=table.separator,
        columns=table.columns,
        understood={
            fact: table.name_column(known[meaning])
            for meaning, fact in _FACTS.items()
            if meaning in known
        },
        comments=tuple(line[:_LONGEST_COMMENT] for _, line in table.comments[:_MOST_COMMENTS]),
        skipped=len(table.other),
    )
