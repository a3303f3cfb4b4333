"""What was left blank, and which checks that costs.

Listed are the fields that the plain forms ask for, and whatever else a check named as missing. Of
a kind of record that is absent altogether one line is enough.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from ledger.contract.enabled import EnabledCheck
from ledger.contract.evidence import Evidence
from ledger.contract.needs import is_blank, list_records
from ledger.model.audit import Blank
from ledger.model.fields import FIELDS
from ledger.model.finding import Finding

_SPECIFICATION = "specification."
_NOT_BLANK = ("criteria", "checks")  # sections whose keys are the checks' own
_CRITERIA_WHY = "the check has no default for it: only the customer can say it"
_RECORD_WHY = {
    "run": "no run is recorded behind these files",
    "step": "no step is recorded behind these files",
    "flight": "no flight is recorded behind these files",
    "rig": "no rig is recorded behind these files",
}


@dataclass(frozen=True)
class _Use:
    """A check that uses a key, and whether it is asked for in the plain forms or was missed."""

    key: str
    check: str
    missed: bool = False


def list_blanks(
    enabled: Iterable[EnabledCheck], findings: Iterable[Finding], evidence: Evidence
) -> tuple[Blank, ...]:
    """Return every blank that costs a check something, the costliest first.

    Args:
        enabled: the checks of the audit.
        findings: what they found; the inputs that they missed are among it.
        evidence: the evidence at the end.
    """
    checks = tuple(enabled)
    uses = [*_list_declared(checks), *_list_missed(findings)]
    blanks = [
        *_list_record_blanks(uses, evidence),
        *_list_specification_blanks(uses, evidence),
        *_list_criteria_blanks(checks),
    ]
    return tuple(sorted(blanks, key=lambda blank: (-len(blank.checks), blank.field)))


def _list_declared(checks: Iterable[EnabledCheck]) -> Iterator[_Use]:
    for each in checks:
        yield from (_Use(key, each.check.id) for key in each.check.fields)
        yield from (_Use(need, each.check.id, missed=True) for need in each.check.needs)


def _list_missed(findings: Iterable[Finding]) -> Iterator[_Use]:
    for finding in findings:
        for need in finding.needs:
            yield _Use(need.split(":", 1)[0].strip(), finding.check, missed=True)


def _list_record_blanks(uses: Iterable[_Use], evidence: Evidence) -> Iterator[Blank]:
    wanted: dict[str, set[str]] = {}
    absent: dict[str, set[str]] = {}
    for use in uses:
        field = FIELDS.get(use.key)
        if field is None or not (field.core or use.missed):
            continue
        records = list_records(use.key, evidence)
        if not records:
            absent.setdefault(field.entry, set()).add(use.check)
        elif any(use.key not in values for _, values in records):
            wanted.setdefault(use.key, set()).add(use.check)
    for entry, checks in absent.items():
        yield Blank(entry, tuple(sorted(checks)), (), _RECORD_WHY[entry])
    for key, checks in wanted.items():
        records = list_records(key, evidence)
        lacking = tuple(name for name, values in records if key not in values)
        yield Blank(key, tuple(sorted(checks)), lacking, FIELDS[key].why)


def _list_specification_blanks(uses: Iterable[_Use], evidence: Evidence) -> Iterator[Blank]:
    """Yield blank keys of `job.toml`; checks name them with or without `specification.`."""
    wanted: dict[str, set[str]] = {}
    for use in uses:
        key = use.key.removeprefix(_SPECIFICATION)
        if use.missed and _is_key(key, evidence) and is_blank(evidence.specification, key):
            wanted.setdefault(key, set()).add(use.check)
    for key, checks in wanted.items():
        yield Blank(key, tuple(sorted(checks)))


def _is_key(key: str, evidence: Evidence) -> bool:
    section = key.split(".", 1)[0]
    known = type(evidence.specification).model_fields
    return "." in key and section in known and section not in _NOT_BLANK


def _list_criteria_blanks(checks: Iterable[EnabledCheck]) -> Iterator[Blank]:
    for each in checks:
        yield from (Blank(key, (each.check.id,), (), _CRITERIA_WHY) for key in each.blanks)
