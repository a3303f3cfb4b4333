"""The empty form: for paper, and to be filled in with an editor."""

from __future__ import annotations

from ledger.model.field import Field, FieldType
from ledger.model.fields import list_fields

_TITLES = {
    "rig": "Rig: scanner, bracket and aircraft as one unit",
    "flight": "Flight: what happened in the field",
    "run": "Run: one processing, by hand in a desktop program or by a command",
}

# What stands behind the equals sign, by type. A number left empty is an error that names its line,
# a text left empty is a blank.
_EMPTY = {
    FieldType.NUMBER: "",
    FieldType.COUNT: "",
    FieldType.VECTOR: "[ , , ]",
    FieldType.YES_NO: "",
}

_HINTS = {
    FieldType.YES_NO: "true or false",
    FieldType.VECTOR: "three numbers",
    FieldType.COUNT: "a whole number",
    FieldType.DATE: "year-month-day",
    FieldType.TIME: "with offset: 2026-05-14T09:12:00Z",
    FieldType.FILE: "path of the file",
    FieldType.CRS: "code or WKT",
}


def print_blank(kind: str) -> str:
    """Return the empty form of a kind of record (`rig`, `flight`, `run`) as TOML.

    As it stands it is valid and answers nothing.
    """
    head = [
        f"# {_TITLES[kind]}.",
        "# Take away the # before a line that you fill in. A line left alone is a blank.",
        '# A value that nobody looked up is written { value = …, known_by = "assumed" }.',
        f"[{kind}]",
    ]
    return "\n".join([*head, *(_print_field(field) for field in list_fields(kind)), ""])


def _print_field(field: Field) -> str:
    hint = ", ".join(field.choices) or _HINTS.get(field.type, "")
    unit = f", {field.unit}" if field.unit else ""
    lines = ["", f"# {field.question}{unit}{f': {hint}' if hint else ''}"]
    if field.why:
        lines.append(f"# blank: {field.why}")
    empty = _EMPTY.get(field.type, '""')
    lines.append(f"# {field.name} = {empty}".rstrip())
    return "\n".join(lines)
