"""Each rule of settings, broken and kept: the values of `made_rule_cases` on both sides."""

from __future__ import annotations

from typing import Any

from made_rule_cases import CASES as RULE_CASES
from made_rule_cases import Case, find_rule
from planted import Planted, make_chain, record

from ledger.contract.check import Check
from ledger.contract.registry import build_registry


def _say(values: dict[str, Any]) -> str:
    """Return settings as one reads them."""
    return ", ".join(
        f"{key} {' '.join(value) if isinstance(value, list) else value}"
        for key, value in values.items()
    )


def _break(case: Case, checks: dict[str, Check]) -> Planted:
    rule = find_rule(case.rule)
    kept = {key.replace(".", "__"): value for key, value in case.applies.items()}
    broken = {key.replace(".", "__"): value for key, value in case.breaks.items()}
    return record(
        f"{' '.join(rule.ids)}: {_say(case.breaks)}",
        checks[rule.topic],
        lambda: make_chain(**kept | broken),
        lambda: make_chain(**kept),
        ids=rule.ids,
    )


def _list_cases() -> tuple[Planted, ...]:
    checks = {each.check.id: each.check for each in build_registry().checks}
    return tuple(_break(case, checks) for case in RULE_CASES)


CASES = _list_cases()
