"""The points of a table whose columns are known."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from datetime import date, datetime
from decimal import Decimal

from ledger.errors import MalformedFileError
from ledger.model.surveypoints import NONVEGETATED, VEGETATED, SurveyPoint
from ledger.tables.columns import EAST, HEIGHT, NORTH, fold_name
from ledger.tables.geojson import SEPARATOR as GEOJSON
from ledger.tables.numbers import find_decimal_mark, read_number
from ledger.tables.rows import Row, TableText, is_number_like

_NUMBERS = (
    EAST,
    NORTH,
    HEIGHT,
    "sigma_horizontal",
    "sigma_vertical",
    "measured_east",
    "measured_north",
    "measured_height",
)
# How people write the two strata; common practice, no source.
_STRATA = {
    **dict.fromkeys(
        ("nva", "nonvegetated", "non_vegetated", "open", "hard", "hard_surface", "bare_earth"),
        NONVEGETATED,
    ),
    **dict.fromkeys(("asphalt", "concrete", "gravel", "paved", "pavement", "bare"), NONVEGETATED),
    **dict.fromkeys(("vva", "vegetated", "vegetation"), VEGETATED),
    **dict.fromkeys(("grass", "tall_grass", "crops", "brush", "forest", "shrub"), VEGETATED),
}
_DAY = re.compile(r"(\d{4})[-/.](\d{1,2})[-/.](\d{1,2})")
_MOST_SKIPPED = 1000
_MOST_POINTS = 100_000

Points = tuple[SurveyPoint, ...]
Skipped = tuple[tuple[int, str], ...]


def read_points(
    table: TableText, columns: Mapping[str, int], where: str, mark: str = ""
) -> tuple[Points, Skipped]:
    """Return the points of a table, and the rows that hold none with the reason.

    Args:
        table: the table taken apart.
        columns: index of the column behind each meaning; `east` and `north` among them.
        where: the file, for messages.
        mark: decimal mark, `point` or `comma`; empty to find it.

    Raises:
        MalformedFileError: its numbers cannot be told, two points share a name, or no row holds
            a point.
    """
    mark = mark or find_decimal_mark(_list_numbers(table, columns), where)
    points: list[SurveyPoint] = []
    skipped = [(row.line, _tell_other(row, table)) for row in table.other[:_MOST_SKIPPED]]
    for row in table.rows:
        cells = {meaning: row.cells[index] for meaning, index in columns.items()}
        try:
            points.append(_read_point(cells, mark, row.line))
        except _NoPointError as error:
            skipped.append((row.line, str(error)))
    _require_points(points, skipped, where)
    return tuple(points), tuple(sorted(skipped)[:_MOST_SKIPPED])


def _tell_other(row: Row, table: TableText) -> str:
    """Return why a row of another width is no point; a feature of GeoJSON has no columns."""
    if table.separator == GEOJSON:
        return f"{row.cells[0] or 'a feature'} is no point"
    return f"{len(row.cells)} columns instead of {table.width}"


class _NoPointError(Exception):
    """Why a row holds no point; never leaves this module."""


def _list_numbers(table: TableText, columns: Mapping[str, int]) -> Iterator[tuple[int, str]]:
    wanted = [columns[meaning] for meaning in _NUMBERS if meaning in columns]
    for row in table.rows:
        for index in wanted:
            if is_number_like(row.cells[index]):
                yield row.line, row.cells[index]


def _read_point(cells: Mapping[str, str], mark: str, line: int) -> SurveyPoint:
    numbers = {name: read_number(cells[name], mark) for name in _NUMBERS if name in cells}
    for name, number in numbers.items():
        if number is None and cells[name] and name not in (EAST, NORTH):
            raise _NoPointError(f'{name} is no number: "{cells[name][:40]}"')
    east, north = numbers[EAST], numbers[NORTH]
    for name, number in ((EAST, east), (NORTH, north)):
        if number is None:
            told = f'is no number: "{cells[name][:40]}"' if cells[name] else "is blank"
            raise _NoPointError(f"the {name}ing {told}")
    if east is None or north is None:  # told above; said again for the types
        raise _NoPointError("no place")
    return SurveyPoint(
        id=cells.get("id", "") or f"row {line}",
        east=east,
        north=north,
        height=numbers.get(HEIGHT),
        stratum=read_stratum(cells.get("stratum", "")),
        sigma_horizontal_m=_require_positive(numbers.get("sigma_horizontal")),
        sigma_vertical_m=_require_positive(numbers.get("sigma_vertical")),
        surveyed=_read_time(cells.get("surveyed", "")),
        measured=_read_measured(numbers),
        row=line,
    )


def _read_measured(
    numbers: Mapping[str, Decimal | None],
) -> tuple[Decimal, Decimal, Decimal | None] | None:
    east, north = numbers.get("measured_east"), numbers.get("measured_north")
    if east is None or north is None:
        return None
    return east, north, numbers.get("measured_height")


def _require_positive(number: Decimal | None) -> Decimal | None:
    if number is not None and number < 0:
        raise _NoPointError(f"a standard deviation is negative: {number}")
    return number


def read_stratum(cell: str) -> str:
    """Return one of the two strata of the trade where a text is a word for it, else the text."""
    return _STRATA.get(fold_name(cell), cell.strip()[:60])


def _read_time(cell: str) -> str:
    """Return a day or a time as ISO 8601; empty where it is in no order that can be told."""
    text = cell.strip()
    day = _DAY.match(text)
    if day is None:
        return ""
    iso = f"{day[1]}-{int(day[2]):02d}-{int(day[3]):02d}"
    rest = text[day.end() :].strip().lstrip("Tt").strip()
    try:
        if not rest:
            return date.fromisoformat(iso).isoformat()
        moment = datetime.fromisoformat(f"{iso}T{rest.upper().replace('Z', '+00:00')}")
    except ValueError:
        return ""
    return moment.isoformat()


def _require_points(points: list[SurveyPoint], skipped: list[tuple[int, str]], where: str) -> None:
    """Raise where a table has no points, too many, or two of one name."""
    if not points:
        told = f"line {skipped[0][0]}: {skipped[0][1]}" if skipped else "no rows"
        raise MalformedFileError(
            "no row of the table holds a point",
            found=told,
            where=where,
            remedy="name the right columns",
        )
    if len(points) > _MOST_POINTS:
        raise MalformedFileError(
            "the table has too many points",
            found=len(points),
            expected=f"at most {_MOST_POINTS:,}",
            where=where,
        )
    seen: dict[str, int] = {}
    for point in points:
        if point.id in seen:
            raise MalformedFileError(
                "two points of the table have one name",
                found=f"{point.id}, lines {seen[point.id]} and {point.row}",
                where=where,
                remedy="name each point once",
            )
        seen[point.id] = point.row
