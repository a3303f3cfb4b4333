"""Recording a table of surveyed points: which column is what, and what its numbers are.

What the names of the columns and the comment lines say is taken as read; what was said of the last
table with the same columns is carried; the rest is asked. Nothing is guessed: what was understood
stands on the screen and in the book, and a table that cannot be read so is refused.
"""

from __future__ import annotations

import math
import os
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import replace
from pathlib import Path

from ledger.crs import describe, to_lonlat
from ledger.errors import CrsError, SwathbookError, UsageError
from ledger.forms import parse_answer
from ledger.model.artefact import Role
from ledger.model.ask import Ask, Progress
from ledger.model.fields import FIELDS
from ledger.model.georeferencing import Area, Crs, CrsKind
from ledger.model.ids import find_next_id, read_id
from ledger.model.known import KnownBy, KnownValue
from ledger.model.phrases import count_things, join_choices
from ledger.model.process import Card
from ledger.model.surveypoints import CHECKPOINTS, CONTROL, HEIGHT_KINDS, PointTable
from ledger.record.answers import Answers, make_finder
from ledger.record.card import CardOptions, record_card
from ledger.record.notes import Note
from ledger.record.result import RecordResult
from ledger.register import RegisterOptions, register_paths
from ledger.status import find_next_step
from ledger.store.reading import Book
from ledger.tables.columns import HEIGHT, list_claims
from ledger.tables.contradictions import list_contradictions
from ledger.tables.reading import COLUMN, build_table, read_table, read_what_it_says
from ledger.tables.rows import TableText
from ledger.tables.samespot import list_same_spots
from ledger.units import LINEAR_UNITS
from ledger.walk import read_dropped_path

FILE, HEADER, ROLE = "points.file", "points.header", "points.role"
_PLAN_KINDS = (CrsKind.PROJECTED, CrsKind.GEOGRAPHIC)
_ASKED = ("id", "east", "north", "height")
# What belongs to one table, whatever its columns.
_OF_ONE = frozenset({FILE, HEADER, "points.surveyed", "points.note"})
_LONGEST_HEADER = 300
_LONGEST_CELL = 24
_ROWS_TOLD = 4
# Of latitude, near enough to tell one spot from two.
_METRES_PER_DEGREE = 111_000.0

Values = Mapping[str, KnownValue]


def record_points(
    job: Path, typed: str, options: CardOptions, ask: Ask, progress: Progress
) -> RecordResult:
    """Record a table of surveyed points, and register its file where it is not yet.

    Args:
        job: the job folder.
        typed: the file, or the id of a table that was recorded (`P1`).
        options: what was said already.
        ask: the person; where nobody is there, only what was said, read or carried is recorded.
        progress: told of bytes hashed.

    Raises:
        UsageError: no table, an id that is not in the book, or an answer that cannot be used.
        FileError: the file cannot be read as a table of points, with what it would take.
        CrsError: a coordinate system that cannot be used.
        BookError: the book cannot be used.
    """
    said = options.answers.read("points", job)
    finder = replace(make_finder(job), progress=progress)
    with Book.open(job) as book:
        cards = book.cards("points")
        path, card = _find_subject(typed, said, cards, book.folder)
        file = parse_answer(FIELDS[FILE], str(path), files=finder)
        roles = {use.file.role for use in book.uses(str(file.value))}
    table = read_table(path)
    card = card or next((each for each in reversed(cards) if _is_of(each, file)), None)
    standing: Values = {} if card is None else card.values
    own = _read_own(table, file, roles)
    carried = _find_carried(cards, own[HEADER], card)
    ready = replace(
        options,
        id=find_next_id("P", tuple(each.id for each in cards)) if card is None else card.id,
        answers=Answers(
            values=_put_together(own, said, standing, carried, interactive=ask.interactive)
        ),
        choices={f"{COLUMN}{meaning}": table.names for meaning in _ASKED},
        carried=carried,
        require=lambda values: _require(table, values, file),
        notes=lambda values: tuple(_tell(table, values, file)),
    )
    _show_first_row(table, ready.answers.values, ask)
    result = record_card(job, "points", ready, ask)
    role = result.values.get(ROLE)
    if role is not None and role.value not in roles:
        register = RegisterOptions(role=Role(str(role.value)), by=options.by)
        register_paths(job, [path], register, progress)
    return replace(result, step=find_next_step(job))


def _find_subject(
    typed: str, said: Values, cards: Sequence[Card], folder: Path
) -> tuple[Path, Card | None]:
    """Return the file that is meant, and the card of a table that was named by its id."""
    named = read_id(typed) if typed else None
    if named is not None and named.kind == "points" and not os.path.exists(typed):
        card = next((each for each in cards if each.id == named.name), None)
        if card is None or FILE not in card.values:
            known = [each.id for each in cards]
            raise UsageError(
                "there is no such table of points",
                found=typed,
                expected=join_choices(known),
                remedy="" if known else "name its file: swathbook record points FILE",
            )
        return folder / card.values[FILE].where, card
    if typed:
        return read_dropped_path(typed), None
    if FILE in said:
        return folder / said[FILE].where, None
    raise UsageError(
        "which table of points is recorded was not said",
        remedy="name its file: swathbook record points FILE",
    )


def _is_of(card: Card, file: KnownValue) -> bool:
    known = card.values.get(FILE)
    return known is not None and known.where == file.where


def _show_first_row(table: TableText, given: Mapping[str, object], ask: Ask) -> None:
    """Tell what stands in each column, where somebody is asked which of them is what."""
    asked = [meaning for meaning in _ASKED if f"{COLUMN}{meaning}" not in given]
    if ask.interactive and asked and table.rows:
        cells = zip(table.names, table.rows[0].cells, strict=True)
        shown = "; ".join(f"{name}: {cell[:_LONGEST_CELL]}" for name, cell in cells)
        ask.tell(f"The first row has {shown}.")


def _read_own(table: TableText, file: KnownValue, roles: Collection[str]) -> dict[str, KnownValue]:
    """Return what the file says of itself, and what it was registered as."""
    own = {FILE: file, HEADER: _describe_header(table, file)}
    registered = {CHECKPOINTS, CONTROL} & set(roles)
    if len(registered) == 1:
        own[ROLE] = KnownValue(registered.pop(), known_by=KnownBy.READ, where="as registered")
    return {**own, **read_what_it_says(table, Path(file.where).name)}


def _describe_header(table: TableText, file: KnownValue) -> KnownValue:
    """Return what tells one layout of a table from another: its columns, or how many there are."""
    named = ", ".join(table.columns) if table.columns else f"{table.width} columns without names"
    told = f"{named} ({table.separator})"[:_LONGEST_HEADER]
    return KnownValue(told, known_by=KnownBy.READ, where=file.where)


def _find_carried(cards: Sequence[Card], header: KnownValue, card: Card | None) -> Values:
    """Return what was said of the last other table with the same columns."""
    for each in reversed(cards):
        same = each.values.get(HEADER)
        is_other = card is None or each.id != card.id
        if is_other and same is not None and same.value == header.value:
            return {key: known for key, known in each.values.items() if key not in _OF_ONE}
    return {}


def _put_together(
    own: Values, said: Values, standing: Values, carried: Values, *, interactive: bool
) -> dict[str, KnownValue]:
    """Return what is not asked: what was said counts over all, then what the file itself says.

    A name of a column is a weaker hint than what a person made of the same columns before; a
    comment line is a stronger one.
    """
    settled = {
        key: known
        for key, known in own.items()
        if not (_is_settled(key, standing) or (key.startswith(COLUMN) and key in carried))
    }
    if interactive:
        return {**settled, **said}
    offered = {
        key: _carry(known, own.get(key)) for key, known in carried.items() if key not in standing
    }
    return {**offered, **settled, **said}


def _is_settled(key: str, standing: Values) -> bool:
    """Say whether a person said this of the very table before."""
    known = standing.get(key)
    return key not in (FILE, HEADER) and known is not None and known.known_by is not KnownBy.READ


def _carry(known: KnownValue, own: KnownValue | None) -> KnownValue:
    if own is not None and own.value == known.value:
        return own
    assumed = known.known_by is KnownBy.ASSUMED
    known_by = KnownBy.ASSUMED if assumed else KnownBy.CARRIED
    return replace(known, known_by=known_by, confirmed=False)


def _require(table: TableText, values: Values, file: KnownValue) -> None:
    """Refuse a table whose points cannot be read, and systems that are none."""
    build_table(table, values, file.where, str(file.value))
    horizontal = values.get("points.horizontal")
    if horizontal is not None and describe(str(horizontal.value)).kind not in _PLAN_KINDS:
        raise UsageError(
            "points.horizontal is no system for easting and northing",
            found=str(horizontal.value),
            expected="a projected or geographic one",
        )
    vertical = values.get("points.vertical")
    if vertical is not None and str(vertical.value) not in HEIGHT_KINDS:
        _require_heights(str(vertical.value))


def _require_heights(text: str) -> None:
    try:
        has_heights = describe(text).vertical is not None
    except CrsError:
        has_heights = False
    if not has_heights:
        raise UsageError(
            "points.vertical is neither a kind of heights nor the code of a height system",
            found=f'"{text[:40]}"',
            expected=f"{join_choices(HEIGHT_KINDS)}, or a code such as EPSG:5703",
        )


def _tell(table: TableText, values: Values, file: KnownValue) -> Iterator[Note]:
    """Yield what was understood: the first point, and the rows that are none."""
    built = build_table(table, values, file.where, str(file.value))
    yield Note(
        f"{count_things(len(built.points), 'point')}; {_describe_first(built)}", is_doubt=False
    )
    if built.skipped:
        told = "; ".join(f"line {line}: {why}" for line, why in built.skipped[:_ROWS_TOLD])
        more = f"; and {len(built.skipped) - _ROWS_TOLD} more" if len(built.skipped) > 4 else ""
        rows = count_things(len(built.skipped), "row holds", "rows hold")
        yield Note(f"{rows} no point: {told}{more}.")
    without = [point.id for point in built.points if point.height is None]
    if without and f"{COLUMN}height" in values:
        more = f" and {len(without) - _ROWS_TOLD} more" if len(without) > _ROWS_TOLD else ""
        have = count_things(len(without), "point has", "points have")
        yield Note(
            f"{have} no height in the table and will test none: {', '.join(without[:_ROWS_TOLD])}"
            f"{more}."
        )
    for clause in list_contradictions(table, values, Path(file.where).name):
        yield Note(f"{clause}: look which is right.")
    doubt = _tell_no_height(table, values)
    if doubt:
        yield Note(doubt)
    horizontal = values.get("points.horizontal")
    if horizontal is not None:
        doubt = _doubt_place(built, describe(str(horizontal.value)), values)
        if doubt:
            yield Note(doubt)
        doubt = _tell_same_spots(built, describe(str(horizontal.value)), values)
        if doubt:
            yield Note(doubt)


def _tell_same_spots(built: PointTable, system: Crs, values: Values) -> str:
    """Return which points lie on the spot of another one; empty for none."""
    metres = _find_factor(system, values) * (system.metres_per_unit or 1.0)
    across = metres
    if system.kind is CrsKind.GEOGRAPHIC:
        metres = _METRES_PER_DEGREE
        across = metres * math.cos(math.radians(float(built.points[0].north)))
    pairs = list(list_same_spots(built.points, across, metres))
    if not pairs:
        return ""
    told = ", ".join(
        f"{one.id} and {other.id} ({apart:.2f} m apart)" for one, other, apart in pairs[:_ROWS_TOLD]
    )
    more = f" and {len(pairs) - _ROWS_TOLD} more" if len(pairs) > _ROWS_TOLD else ""
    spots = count_things(len(pairs), "point lies", "points lie")
    return (
        f"{spots} on the spot of another one: {told}{more}. One spot counts once, and not at all "
        "where its heights differ: look whether a row was copied."
    )


def _tell_no_height(table: TableText, values: Values) -> str:
    """Return which columns could both be the height, where none is taken; empty otherwise."""
    if f"{COLUMN}height" in values:
        return ""
    could = list_claims(table, HEIGHT)
    if len(could) < 2:
        return ""
    return f'No height is taken: {join_choices(could)}? Say which: --set column_height="…"'


def _describe_first(built: PointTable) -> str:
    point = built.points[0]
    height = "no height" if point.height is None else f"height {point.height}"
    return f"the first, {point.id}: easting {point.east}, northing {point.north}, {height}."


def _doubt_place(built: PointTable, system: Crs, values: Values) -> str:
    """Return why the first point may not be where its system is used; empty otherwise."""
    point, area = built.points[0], system.area
    if area is None:
        return ""
    factor = _find_factor(system, values)
    east, north = float(point.east) * factor, float(point.north) * factor
    if _is_inside(system, area, east, north):
        return ""
    told = f"Point {point.id} lies outside the area in which {system.name} is used"
    if _is_inside(system, area, north, east):
        return f"{told}; with easting and northing exchanged it would lie inside."
    return f"{told}: look at the system, the unit and the columns."


def _find_factor(system: Crs, values: Values) -> float:
    stated = values.get("points.unit_horizontal")
    if stated is None or not system.metres_per_unit:
        return 1.0
    return float(LINEAR_UNITS[str(stated.value)].factor) / system.metres_per_unit


def _is_inside(system: Crs, area: Area, east: float, north: float) -> bool:
    try:
        lon, lat = to_lonlat(system, east, north)
    except SwathbookError:
        return False
    wide = area.west <= lon <= area.east
    if area.west > area.east:
        wide = lon >= area.west or lon <= area.east
    return wide and area.south <= lat <= area.north
