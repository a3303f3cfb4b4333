"""How a question is worded: the unit, the format, the choices, and what Enter does.

The same format is told at a terminal and in the printed form.
"""

from __future__ import annotations

from ledger.model.field import Field, FieldType
from ledger.model.known import KnownBy, KnownValue, show_value

AS_LAST_TIME = "as last time"
ARROWS = "arrows move, Enter takes what is marked"
TICKS = "nothing ticked: all are right; arrows move, space ticks, Enter ends"

_UNITS = {
    "m": "metres",
    "deg": "degrees",
    "m/s": "metres a second",
    "year": "year",
    "%": "per cent",
}

_EXAMPLES = {
    "m": "1.523 or 1,523",
    "deg": "15 or 12,5",
    "m/s": "5 or 5,5",
    "year": "2010.0",
    "%": "95",
}

_FORMATS = {
    FieldType.COUNT: "a whole number",
    FieldType.DATE: "year-month-day: 2026-05-14",
    FieldType.TIME: "with its offset from UTC: 2026-05-14 09:12Z or 2026-05-14 11:12+02:00",
    FieldType.YES_NO: "yes or no",
    FieldType.FILE: "path of the file",
    FieldType.CRS: "a code, with the vertical part behind it if any: EPSG:6346+5703; or WKT",
}


def describe_format(field: Field) -> str:
    """Return unit and format of an answer in one clause; empty for free text without a remark."""
    parts = [_describe_type(field), field.note]
    return "; ".join(part for part in parts if part)


def _describe_type(field: Field) -> str:
    unit = _UNITS.get(field.unit, field.unit)
    if field.type is FieldType.VECTOR:
        return f"x y z in {unit}: 0.112 -0.004 0.231"
    if field.type is FieldType.NUMBER:
        example = _EXAMPLES.get(field.unit, "")
        return f"{unit}: {example}" if unit and example else unit or "a number"
    return _FORMATS.get(field.type, "")


def describe_question(
    field: Field, default: str, *, standing: bool, wrong: bool, remark: str = ""
) -> str:
    """Return the line below a question: format, and what Enter does.

    Args:
        field: what is asked.
        default: the answer that stands there already; empty for none.
        standing: this very record has a value in the book already.
        wrong: what stands there was refused.
        remark: what else this occasion needs to be said, in one clause; empty for nothing.
    """
    if field.choices or field.type is FieldType.YES_NO:
        return "; ".join(part for part in (field.note, ARROWS) if part)
    empty = "keeps what is recorded" if standing else "leaves it blank"
    if wrong:
        enter = f"put it right, or empty the line: that {empty}"
    elif not default:
        enter = f"Enter {empty}"
    else:
        enter = (
            "Enter takes what is shown" if standing else f"Enter takes it, an emptied line {empty}"
        )
    dropped = "it may be dropped into this window" if field.type is FieldType.FILE else ""
    told = "" if wrong else remark
    return "; ".join(part for part in (describe_format(field), dropped, told, enter) if part)


def echo(field: Field, known: KnownValue, since: str = AS_LAST_TIME) -> str:
    """Return an answer as it was understood, with its unit and what was converted.

    Args:
        field: what was asked.
        known: the answer.
        since: where a carried answer comes from.
    """
    if field.type is FieldType.FILE:
        return f"{field.question}: {known.where}"
    notes = []
    if known.known_by in (KnownBy.CARRIED, KnownBy.ASSUMED):
        notes.append(since if known.known_by is KnownBy.CARRIED else "assumed")
    elif known.known_by in (KnownBy.TYPED, KnownBy.READ) and known.where:
        notes.append(known.where)
    told = f" ({', '.join(notes)})" if notes else ""
    return f"{field.question}: {show_value(known)}{told}"
