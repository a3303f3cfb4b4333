"""The empty form: for paper, and to be filled in with an editor.

It is plain ASCII, so that it is the same in every encoding that a console redirects in.
"""

from __future__ import annotations

from ledger.forms.wording import describe_format
from ledger.model.field import Field
from ledger.model.fields import list_fields
from ledger.model.phrases import list_choices

_TITLES = {
    "rig": "Rig: scanner, bracket and aircraft as one unit",
    "flight": "Flight: what happened in the field",
    "run": "Run: one processing, by hand in a desktop program or by a command",
    "statement": "Statement: one number about accuracy, as a report states it",
    "points": "Table of surveyed points: which column is what, and what the numbers are",
    "step": "Step: cleaning, classifying, tiling ... of what a run made",
}


def print_blank(kind: str) -> str:
    """Return the empty form of a kind of record (`rig`, `flight`, `run`, `step`) as TOML.

    As it stands it is valid and answers nothing.
    """
    head = [
        f"# {_TITLES[kind]}.",
        "# Write between the quotes; what is left empty is a blank. A decimal comma is fine.",
        '# A value that nobody looked up: name = { value = "...", known_by = "assumed" }',
        f"[{kind}]",
    ]
    return "\n".join([*head, *(_print_field(field) for field in list_fields(kind)), ""])


def _print_field(field: Field) -> str:
    hint = "; ".join(part for part in (list_choices(field.choices), describe_format(field)) if part)
    lines = ["", f"# {field.question}{f' ({hint})' if hint else ''}"]
    if field.why:
        lines.append(f"# blank: {field.why}")
    lines.append(f'{field.name} = ""')
    return "\n".join(lines)
