"""A card to be printed: one A4 page with every field of the record, in asking order."""

from __future__ import annotations

from typing import Annotated, TypedDict

from jinja2 import Environment, PackageLoader, StrictUndefined

from ledger.dataclass import dataclass
from ledger.model.field import Field, FieldType
from ledger.model.fields import list_fields

_TITLES = {"flight": "Flight card", "rig": "Rig card"}
_LABELS = {"flight": "Flight", "rig": "Rig"}
_UNITS = {FieldType.DATE: "year-month-day", FieldType.TIME: "UTC or with offset"}


class CardJson(TypedDict):
    """What `record flight --card --json` and `record rig --card --json` print."""

    schema: Annotated[int, "1"]
    kind: Annotated[str, "flight or rig"]
    id: Annotated[str, "F1, G1; empty for none"]
    file: Annotated[str, "where the page lies"]


@dataclass(frozen=True)
class _Row:
    """One line of the card."""

    key: str
    question: str
    choices: tuple[str, ...]
    unit: str
    note: str


def make_card_page(kind: str, job: str = "", name: str = "") -> str:
    """Return the card of a flight or rig as an HTML page that needs nothing else.

    Args:
        kind: `flight` or `rig`.
        job: reference of the job; empty for a blank line.
        name: id of the flight or rig; empty for a blank line.
    """
    # The card is read by whoever opens it: everything that enters it is escaped.
    pages = Environment(
        loader=PackageLoader("ledger.report", "pages"), autoescape=True, undefined=StrictUndefined
    )
    return pages.get_template("card.html").render(
        title=_TITLES[kind],
        job=job,
        id=name,
        id_label=_LABELS[kind],
        rows=[_make_row(field) for field in list_fields(kind) if not _is_of_a_file(field)],
        command=f"swathbook record {kind} {name}".rstrip(),
    )


def _is_of_a_file(field: Field) -> bool:
    """Say whether a field tells how a file is laid out: nobody knows that in the field."""
    return field.key.startswith("flight.track_")


def _make_row(field: Field) -> _Row:
    choices = field.choices
    if field.type is FieldType.YES_NO:
        choices = ("yes", "no")
    unit = field.unit or _UNITS.get(field.type, "")
    note = "x, y, z" if field.type is FieldType.VECTOR else field.note
    return _Row(field.key, field.question, choices, unit, note)
