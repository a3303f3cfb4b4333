"""Where a person said something else of a table of points than its own lines do."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from ledger.model.known import KnownBy, KnownValue
from ledger.model.surveypoints import HEIGHT_KINDS
from ledger.tables.columns import find_column
from ledger.tables.declared import read_declared
from ledger.tables.reading import COLUMN
from ledger.tables.rows import TableText

_PLACED = ("id", "east", "north", "height")
_COMPARED = ("horizontal", "vertical", "unit_horizontal", "unit_vertical", "epoch", "role")


def list_contradictions(
    table: TableText, values: Mapping[str, KnownValue], name: str
) -> Iterator[str]:
    """Yield a clause for each thing that the file says otherwise than somebody declared.

    Args:
        table: the file as text.
        values: what was declared, by key.
        name: name of the file.
    """
    columns = {
        meaning: index
        for meaning in _PLACED
        if (said := values.get(f"{COLUMN}{meaning}")) is not None
        and (index := find_column(table, str(said.value))) is not None
    }
    for key, own in read_declared(table, columns, name).items():
        said = values.get(f"points.{key}")
        if key not in _COMPARED or said is None or said.known_by is KnownBy.READ:
            continue
        both = (str(own.value), str(said.value))
        # A kind of heights and the code of a height system are compared by nobody here.
        if both[0] == both[1] or (key == "vertical" and not set(both) <= set(HEIGHT_KINDS)):
            continue
        label = key.replace("_", " ")
        yield f"{label[0].upper()}{label[1:]} is {both[1]} here, and {own.where} says {both[0]}"
