"""What was left blank, and what that costs."""

from __future__ import annotations

from collections.abc import Mapping

from ledger.dataclass import dataclass
from ledger.model.fields import CAPTURE_SETTINGS, list_fields
from ledger.model.known import NOTHING, KnownValue

# Asked in no plain form, and still a question that a client puts.
_ALSO_WANTED = {"run": ("run.epoch",), "flight": ("flight.epoch",)}


@dataclass(frozen=True)
class Blank:
    """A record field or a key of `job.toml` that was left blank, and what that costs.

    Args:
        field: `run.lever_arm`, `coordinates.geoid`, `criteria.some-check.limit_m`; a
            bare `run`, `flight` or `rig` where there is no such record at all.
        checks: ids of the checks that cannot judge fully without it.
        subjects: ids of the records in which it is blank; empty for `job.toml`, and where there
            is no such record at all.
        why: what the blank costs, in one clause; empty where nothing is known.
    """

    field: str
    checks: tuple[str, ...]
    subjects: tuple[str, ...] = ()
    why: str = ""


def is_blank(value: KnownValue | None) -> bool:
    """Say whether nothing was recorded."""
    return value is None or value.value in NOTHING


def list_blanks(
    kind: str, values: Mapping[str, KnownValue], *, later: bool = False
) -> tuple[str, ...]:
    """Return the keys of core fields of a record that have no value, in asking order.

    Args:
        kind: `rig`, `flight`, `run` or `step`.
        values: what was recorded, by key.
        later: a run that works on what other runs made, which has no settings of a capture.
    """
    wanted = [field.key for field in list_fields(kind) if field.is_wanted(values)]
    wanted += _ALSO_WANTED.get(kind, ())
    settled = CAPTURE_SETTINGS if later else frozenset()
    return tuple(key for key in wanted if is_blank(values.get(key)) and key not in settled)
