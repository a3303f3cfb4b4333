"""One table from its file to its points: the one reader for whoever records or audits."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from decimal import Decimal
from pathlib import Path

from ledger.errors import MalformedFileError
from ledger.model.known import KnownBy, KnownValue
from ledger.model.surveypoints import PointTable, SurveyPoint
from ledger.tables.columns import EAST, MEANINGS, NORTH, find_column, understand
from ledger.tables.declared import read_declared
from ledger.tables.geojson import (
    POSITION,
    SEPARATOR,
    SOURCE,
    SYSTEM,
    looks_like_geojson,
    take_apart_geojson,
)
from ledger.tables.points import read_points, read_stratum
from ledger.tables.rows import FEWEST_COLUMNS, TableText, read_text, take_apart

COLUMN = "points.column_"
_LONGEST_CELL = 24
DECLARED = (
    "horizontal",
    "epoch",
    "vertical",
    "geoid",
    "unit_horizontal",
    "unit_vertical",
    "base",
    "surface",
)


def read_table(path: Path) -> TableText:
    """Return a table taken apart: text with columns, or GeoJSON.

    Raises:
        UnreadableFileError: the system refused.
        MalformedFileError: it is no table of points.
    """
    text = read_text(path)
    if looks_like_geojson(text):
        return take_apart_geojson(text, str(path))
    return take_apart(text, str(path))


def read_what_it_says(table: TableText, name: str) -> dict[str, KnownValue]:
    """Return what a table says of itself, by field key (`points.column_east`): read, not asked.

    Args:
        table: the table.
        name: the file, for `where`.
    """
    known = understand(table)
    header = f"{name} line {table.header_line}"
    found: dict[str, KnownValue] = {}
    if table.separator == SEPARATOR:
        known |= {meaning: table.columns.index(each) for meaning, each in POSITION.items()}
        found["points.horizontal"] = KnownValue(SYSTEM, known_by=KnownBy.READ, where=SOURCE)
        header = name
    for meaning, index in known.items():
        column = table.name_column(index)
        found[f"{COLUMN}{meaning}"] = KnownValue(column, known_by=KnownBy.READ, where=header)
    declared = read_declared(table, known, name)
    if "epoch" in declared:
        declared["epoch"] = replace(declared["epoch"], unit="year")
    found |= {f"points.{meaning}": value for meaning, value in declared.items()}
    return found


def build_table(
    table: TableText, values: Mapping[str, KnownValue], path: str, sha256: str
) -> PointTable:
    """Return the points of a table whose columns somebody declared.

    Args:
        table: the table taken apart.
        values: what was recorded of it, by field key.
        path: the file as the book writes it.
        sha256: digest of its bytes.

    Raises:
        MalformedFileError: a column that it does not have, none for easting or northing, numbers
            that cannot be told, or no points.
    """
    _require_header(table, path)
    columns = _find_columns(table, values, path)
    points, skipped = read_points(table, columns, path, _read_value(values, "decimal_mark"))
    declared = {name: values[key] for name in DECLARED if _says(values, key := f"points.{name}")}
    return PointTable(
        path=path,
        sha256=sha256,
        kind=_read_value(values, "role"),
        declared=declared,
        understood={meaning: table.name_column(index) for meaning, index in columns.items()},
        points=tuple(_fill(point, values) for point in points),
        skipped=skipped,
    )


def _require_header(table: TableText, path: str) -> None:
    """Refuse a header of another width than the rows: which cell is under which name is unknown."""
    if table.columns and len(table.columns) != table.width:
        remedy = "give every column a name"
        if len(table.columns) < FEWEST_COLUMNS:
            remedy = f'line {table.header_line} looks like a title: put "#" before it'
        elif table.separator == "comma" and len(table.columns) < table.width:
            remedy = "where numbers have decimal commas, separate the columns by semicolons or tabs"
        elif table.separator == "blanks" and len(table.columns) < table.width:
            remedy = "where names have blanks inside, separate the columns by tabs"
        raise MalformedFileError(
            "the rows have another number of columns than the header",
            found=f"{table.width} in a row, {len(table.columns)} in the header",
            where=path,
            remedy=remedy,
        )


def _says(values: Mapping[str, KnownValue], key: str) -> bool:
    return key in values and values[key].value not in (None, "", "none")


def _read_value(values: Mapping[str, KnownValue], name: str) -> str:
    known = values.get(f"points.{name}")
    return "" if known is None else str(known.value)


def _find_columns(table: TableText, values: Mapping[str, KnownValue], path: str) -> dict[str, int]:
    columns: dict[str, int] = {}
    for meaning in MEANINGS:
        named = _read_value(values, f"column_{meaning}")
        if not named or named == "none":
            continue
        index = find_column(table, named)
        if index is None:
            raise MalformedFileError(
                "the table has no such column",
                found=f'column_{meaning} "{named}"',
                expected=", ".join(table.names),
                where=path,
            )
        columns[meaning] = index
    missing = [meaning for meaning in (EAST, NORTH) if meaning not in columns]
    if missing:
        told = " and ".join(f"{meaning}ing" for meaning in missing)
        raise MalformedFileError(
            f"nobody said which column is the {told}",
            found=_show_columns(table),
            where=path,
            remedy=" ".join(f'--set column_{meaning}="…"' for meaning in missing),
        )
    taken = {index: meaning for meaning, index in columns.items()}
    if len(taken) < len(columns):
        raise MalformedFileError("one column is said to hold two things", where=path)
    return columns


def _show_columns(table: TableText) -> str:
    """Return the names of the columns; of columns without names what stands in them first."""
    if table.columns or not table.rows:
        return ", ".join(table.names)
    cells = zip(table.names, table.rows[0].cells, strict=True)
    return ", ".join(f"{name} ({cell[:_LONGEST_CELL]} …)" for name, cell in cells)


def _fill(point: SurveyPoint, values: Mapping[str, KnownValue]) -> SurveyPoint:
    """Return a point with what was said of the whole table where its row says nothing."""
    sigma_h, sigma_v = (_read_value(values, f"sigma_{name}") for name in ("horizontal", "vertical"))
    return replace(
        point,
        stratum=point.stratum or read_stratum(_read_value(values, "surface")),
        surveyed=point.surveyed or _read_value(values, "surveyed"),
        sigma_horizontal_m=_choose(point.sigma_horizontal_m, sigma_h),
        sigma_vertical_m=_choose(point.sigma_vertical_m, sigma_v),
    )


def _choose(own: Decimal | None, text: str) -> Decimal | None:
    return own if own is not None or not text else Decimal(text)
