"""Where one line of a table of points says something else than another one, or than a person."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from ledger.model.known import KnownValue
from ledger.model.surveypoints import HEIGHT_KINDS
from ledger.tables.columns import SOME_FOOT, find_column
from ledger.tables.declared import list_declared
from ledger.tables.reading import COLUMN
from ledger.tables.rows import TableText
from ledger.units import INTERNATIONAL_FOOT, US_SURVEY_FOOT

_PLACED = ("id", "east", "north", "height")
_COMPARED = ("horizontal", "vertical", "unit_horizontal", "unit_vertical", "epoch", "role")
_FEET = (US_SURVEY_FOOT.name, INTERNATIONAL_FOOT.name)


def list_contradictions(
    table: TableText, values: Mapping[str, KnownValue], name: str
) -> Iterator[str]:
    """Yield a clause for each thing that a line of the file says otherwise than it is taken.

    Args:
        table: the file as text.
        values: what is taken, by key: declared by somebody, or read from another line.
        name: name of the file.
    """
    columns = {
        meaning: index
        for meaning in _PLACED
        if (said := values.get(f"{COLUMN}{meaning}")) is not None
        and (index := find_column(table, str(said.value))) is not None
    }
    for key, own in list_declared(table, columns, name):
        said = values.get(f"points.{key}")
        if key not in _COMPARED or said is None:
            continue
        both = (str(own.value), str(said.value))
        if _can_both_be(key, *both):
            continue
        label = key.replace("_", " ")
        yield f"{label[0].upper()}{label[1:]} is {both[1]} here, and {own.where} says {both[0]}"


def _can_both_be(key: str, own: str, said: str) -> bool:
    if own == said or (own == SOME_FOOT and said in _FEET):
        return True
    # A kind of heights and the code of a height system are compared by nobody here.
    return key == "vertical" and not {own, said} <= set(HEIGHT_KINDS)
