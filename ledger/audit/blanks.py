"""What was left blank, and which checks that costs."""

from __future__ import annotations

from collections.abc import Iterable

from ledger.contract.enabled import EnabledCheck
from ledger.contract.evidence import Evidence
from ledger.contract.needs import is_blank, list_records
from ledger.model.audit import Blank
from ledger.model.fields import FIELDS

_SPECIFICATION = "specification."
_DEFAULT_WHY = "the check has no default for it: only the customer can say it"


def list_blanks(enabled: Iterable[EnabledCheck], evidence: Evidence) -> tuple[Blank, ...]:
    """Return every blank that costs a check something, the costliest first.

    A record field is blank when a record behind the delivery lacks it, or when there is no such
    record at all.
    """
    checks = tuple(enabled)
    blanks = [
        *_list_record_blanks(checks, evidence),
        *_list_specification_blanks(checks, evidence),
        *_list_criteria_blanks(checks),
    ]
    return tuple(sorted(blanks, key=lambda blank: (-len(blank.checks), blank.field)))


def _list_record_blanks(checks: tuple[EnabledCheck, ...], evidence: Evidence) -> Iterable[Blank]:
    users: dict[str, list[str]] = {}
    for each in checks:
        named = (*each.check.fields, *(need for need in each.check.needs if need in FIELDS))
        for key in dict.fromkeys(named):
            users.setdefault(key, []).append(each.check.id)
    for key, ids in users.items():
        if key not in FIELDS:
            continue
        records = list_records(key, evidence)
        lacking = tuple(name for name, values in records if key not in values)
        if lacking or not records:
            yield Blank(key, tuple(ids), lacking, FIELDS[key].why)


def _list_specification_blanks(
    checks: tuple[EnabledCheck, ...], evidence: Evidence
) -> Iterable[Blank]:
    users: dict[str, list[str]] = {}
    for each in checks:
        for need in each.check.needs:
            if need.startswith(_SPECIFICATION):
                users.setdefault(need.removeprefix(_SPECIFICATION), []).append(each.check.id)
    for key, ids in users.items():
        if is_blank(evidence.specification, key):
            yield Blank(key, tuple(ids))


def _list_criteria_blanks(checks: tuple[EnabledCheck, ...]) -> Iterable[Blank]:
    for each in checks:
        for key in each.blanks:
            yield Blank(key, (each.check.id,), why=_DEFAULT_WHY)
