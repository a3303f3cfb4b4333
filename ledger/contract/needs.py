"""The named inputs of checks: which of them are at hand, and why the others are not.

| name | met when |
| --- | --- |
| `points` | points are read in this audit and the folder holds a point file |
| `headers` | at least one point file has a readable header |
| `records` | the job has a recorded run or step |
| `boundary` | the specification names a file that could be read and placed |
| `geoid-grid` | the grid that the specification names is there |
| `checkpoints` | what a table of checkpoints of the job holds was recorded |
| `control`, `trajectory`, `base-log` … | a file of that role is in the job |
| `specification.KEY` | that key of `job.toml` is filled |
| `run.KEY`, `flight.KEY`, `rig.KEY` | a record behind this delivery holds it |

A name that is not in the table is never met: a check that asks for it says nothing.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from ledger.contract.check import Check
from ledger.contract.evidence import Evidence
from ledger.model.artefact import Role
from ledger.model.fields import FIELDS
from ledger.model.finding import SPECIFICATION
from ledger.model.known import KnownValue
from ledger.model.surveypoints import CHECKPOINTS
from ledger.model.typed import quote_path

QUICK = "a quick audit reads none"
_ROLES = frozenset(str(role) for role in Role)


def find_unmet(needs: tuple[str, ...], evidence: Evidence) -> tuple[str, ...]:
    """Return the needs that are not met, each as `name: reason`."""
    reasons = ((need, _find_reason(need, evidence)) for need in needs)
    return tuple(f"{need}: {reason}" for need, reason in reasons if reason)


def list_specification_keys(check: Check) -> tuple[str, ...]:
    """Return the keys of `job.toml` that a check reads: declared, or behind one of its needs."""
    needed = (
        need.removeprefix(SPECIFICATION)
        if need.startswith(SPECIFICATION)
        else _KEYS_BEHIND.get(need, "")
        for need in check.needs
    )
    return tuple(sorted({*check.specification_keys, *filter(None, needed)}))


def _find_reason(need: str, evidence: Evidence) -> str:
    judge = _SIMPLE.get(need)
    if judge is not None:
        return judge(evidence)
    if need.startswith(SPECIFICATION):
        return _judge_specification(need.removeprefix(SPECIFICATION), evidence)
    if need in FIELDS:
        return _judge_field(need, evidence)
    if need in _ROLES:
        return _judge_role(need, evidence)
    return "this version knows no such input"


def _judge_points(evidence: Evidence) -> str:
    if evidence.quick:
        return QUICK
    return "" if evidence.point_files else "there is no point file in the folder"


def _judge_headers(evidence: Evidence) -> str:
    if any(file.header is not None for file in evidence.point_files):
        return ""
    return "there is no point file with a readable header in the folder"


def _judge_records(evidence: Evidence) -> str:
    if evidence.recorded or evidence.processes:
        return ""
    return "no run is recorded in this job"


def _judge_boundary(evidence: Evidence) -> str:
    named = evidence.specification.delivery.boundary
    if evidence.boundary is not None:
        return evidence.boundary.fault
    return "delivery.boundary is blank" if named is None else f"{named} was not found"


def _judge_geoid_grid(evidence: Evidence) -> str:
    geoid = evidence.specification.coordinates.geoid
    if geoid is None or geoid.file is None:
        return "coordinates.geoid names no file"
    return "" if evidence.geoid_sha256 else f"{geoid.file} was not found"


def _judge_checkpoints(evidence: Evidence) -> str:
    """Say of tables that nobody recorded what to type: columns are never guessed."""
    tables = [table for table in evidence.tables if table.kind == CHECKPOINTS]
    if any(not table.fault for table in tables):
        return ""
    if tables:
        return f"{tables[0].path}: {tables[0].fault}"
    undecided = [table.path for table in evidence.tables if not table.kind]
    if undecided:
        table = quote_path(undecided[0])
        told = f"nobody said whether the points of {table} are control or checkpoints"
        return f"{told} (swathbook record points {table})"
    reason = _judge_role(CHECKPOINTS, evidence)
    if reason:
        return reason
    named = [file.path for file in evidence.registered.values() if file.role == CHECKPOINTS]
    table = quote_path(min(named))
    return f"nobody said what the columns of {table} are (swathbook record points {table})"


def _judge_role(role: str, evidence: Evidence) -> str:
    if any(file.role == role for file in evidence.registered.values()):
        return ""
    return f"no file of the role {role} is in this job"


def _judge_specification(key: str, evidence: Evidence) -> str:
    return "it is blank in job.toml" if is_blank(evidence.specification, key) else ""


def is_blank(specification: object, key: str) -> bool:
    """Say whether a dotted key of the specification is absent, or there is no such key."""
    value: Any = specification
    for part in key.split("."):
        value = value.get(part) if isinstance(value, Mapping) else getattr(value, part, None)
    return value is None or value == ()


def _judge_field(key: str, evidence: Evidence) -> str:
    if any(key in values for _, values in list_records(key, evidence)):
        return ""
    return "it is in no record behind this delivery"


def list_records(key: str, evidence: Evidence) -> tuple[tuple[str, Mapping[str, KnownValue]], ...]:
    """Return id and values of every record behind the delivery that may hold a field."""
    entry = FIELDS[key].entry
    cards = {"flight": evidence.flights, "rig": evidence.rigs}.get(entry)
    if cards is not None:
        return tuple((card.id, card.values) for card in cards)
    return tuple((each.id, each.values) for each in evidence.processes if each.kind == entry)


_KEYS_BEHIND = {"boundary": "delivery.boundary", "geoid-grid": "coordinates.geoid.file"}
_SIMPLE: dict[str, Callable[[Evidence], str]] = {
    "points": _judge_points,
    "headers": _judge_headers,
    "records": _judge_records,
    "boundary": _judge_boundary,
    CHECKPOINTS: _judge_checkpoints,
    "geoid-grid": _judge_geoid_grid,
}
