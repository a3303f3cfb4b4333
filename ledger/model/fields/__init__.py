"""The one dictionary of record fields.

Forms, `--set`, the cost of a blank, JSON and the documentation are all made from it. A key is
`entry.name`, where `entry` is the kind of record (`rig`, `flight`, `run`, `step`,
`statement`, `points`). Each kind has a module of its own here, in asking order.

Questions and choices are common practice of the trade, no source.
"""

from __future__ import annotations

from ledger.model.field import Field
from ledger.model.fields.choices import KEEPING_STEPS, MOVING_STEPS
from ledger.model.fields.flight import FLIGHT_FIELDS
from ledger.model.fields.points import POINTS_FIELDS
from ledger.model.fields.rig import RIG_FIELDS
from ledger.model.fields.run import CAPTURE_SETTINGS, RUN_FIELDS
from ledger.model.fields.statement import STATEMENT_FIELDS
from ledger.model.fields.step import STEP_FIELDS

__all__ = [
    "CAPTURE_SETTINGS",
    "COMMAND_FIELDS",
    "FIELDS",
    "KEEPING_STEPS",
    "MOVING_STEPS",
    "list_fields",
]

# What is known of a command because Swathbook ran it: read once, and from nothing that is left.
COMMAND_FIELDS = frozenset(
    f"{kind}.{name}"
    for kind in ("run", "step")
    for name in ("command", "folder", "exit_status", "started", "ended")
)

_ALL = (*RIG_FIELDS, *FLIGHT_FIELDS, *RUN_FIELDS, *STEP_FIELDS, *STATEMENT_FIELDS, *POINTS_FIELDS)
FIELDS: dict[str, Field] = {field.key: field for field in _ALL}


def list_fields(entry: str) -> tuple[Field, ...]:
    """Return the fields of one kind of record (`rig`, `flight`, `run`, `step`), in asking order."""
    return tuple(field for field in _ALL if field.entry == entry)
