"""What was left blank, and which checks that costs.

Listed are the fields that the plain forms ask for, and whatever else a check named as missing. Of
a kind of record that is absent altogether one line is enough.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

from ledger.contract.enabled import EnabledCheck
from ledger.contract.evidence import Evidence
from ledger.contract.needs import is_blank, list_records
from ledger.dataclass import dataclass
from ledger.model.blanks import Blank
from ledger.model.fields import CAPTURE_SETTINGS, FIELDS
from ledger.model.finding import Finding
from ledger.model.known import KnownValue
from ledger.model.process import find_later

_SPECIFICATION = "specification."
_NOT_BLANK = ("criteria", "checks")  # sections whose keys are the checks' own
_CRITERIA_WHY = "the check has no default for it: only the customer can say it"
_RECORD_WHY = {
    "run": "no run is recorded behind these files",
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
        *_list_criteria_blanks(checks, uses),
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
    lacking: dict[str, dict[str, None]] = {}
    later = find_later(evidence.processes)
    for use in uses:
        field = FIELDS.get(use.key)
        if field is None or not (field.core or use.missed):
            continue
        records = _list_holders(use.key, evidence, later)
        if not records:
            absent.setdefault(field.entry, set()).add(use.check)
        for name, values in records:
            if use.key not in values and (use.missed or field.is_wanted(values)):
                wanted.setdefault(use.key, set()).add(use.check)
                lacking.setdefault(use.key, {})[name] = None
    for entry, checks in absent.items():
        # Most deliveries need no step and no statement; run, flight and rig stand behind each.
        if entry in _RECORD_WHY:
            yield Blank(entry, tuple(sorted(checks)), (), _RECORD_WHY[entry])
    for key, checks in wanted.items():
        yield Blank(key, tuple(sorted(checks)), tuple(lacking[key]), FIELDS[key].why)


def _list_holders(
    key: str, evidence: Evidence, later: frozenset[str]
) -> tuple[tuple[str, Mapping[str, KnownValue]], ...]:
    """Return id and values of the records that should hold a field.

    Where only runs on what other runs made are there, a setting of a capture has no holder.
    """
    records = list_records(key, evidence)
    if key not in CAPTURE_SETTINGS:
        return records
    return tuple((name, values) for name, values in records if name not in later)


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


def _list_criteria_blanks(checks: Iterable[EnabledCheck], uses: Iterable[_Use]) -> Iterator[Blank]:
    """Yield the criteria without a value: those that have to be stated, and those that were missed.

    A check may name its own blank criterion as what it lacks, where it says something without it.
    """
    missed = {(use.check, use.key.removeprefix(_SPECIFICATION)) for use in uses if use.missed}
    for each in checks:
        prefix = f"criteria.{each.check.id}."
        own = {key for check, key in missed if check == each.check.id and key.startswith(prefix)}
        for key in dict.fromkeys((*each.blanks, *sorted(own))):
            yield Blank(key, (each.check.id,), (), _CRITERIA_WHY)
