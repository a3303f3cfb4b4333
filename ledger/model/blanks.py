"""Which core fields of a record have no value."""

from __future__ import annotations

from collections.abc import Mapping

from ledger.model.fields import list_fields
from ledger.model.known import KnownValue

# Asked in no plain form, and still a question that a client puts.
_ALSO_WANTED = {"run": ("run.epoch",), "flight": ("flight.epoch",)}
_SETTLED_WITHOUT_GEOID = frozenset({"run.geoid_version", "run.geoid_file"})


def is_blank(value: KnownValue | None) -> bool:
    """Say whether nothing was recorded."""
    return value is None or value.value in (None, "", [], ())


def list_blanks(kind: str, values: Mapping[str, KnownValue]) -> tuple[str, ...]:
    """Return the keys of core fields of a record that have no value, in asking order.

    Args:
        kind: `rig`, `flight`, `run` or `step`.
        values: what was recorded, by key.
    """
    wanted = [field.key for field in list_fields(kind) if field.core]
    wanted += _ALSO_WANTED.get(kind, ())
    geoid = values.get("run.geoid_name")
    settled = _SETTLED_WITHOUT_GEOID if geoid and geoid.value == "none" else frozenset()
    return tuple(key for key in wanted if is_blank(values.get(key)) and key not in settled)
