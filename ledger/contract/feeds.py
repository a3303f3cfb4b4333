"""Who is fed from the one pass: single checks, and families that count for several of them."""

from __future__ import annotations

from collections.abc import Mapping

from ledger.contract.check import Family, FamilyCheck, Plan, PointCheck
from ledger.contract.evidence import Evidence
from ledger.dataclass import dataclass
from ledger.errors import ContractError


@dataclass(frozen=True)
class Feed:
    """One tally a file, and the checks that it is for.

    Args:
        source: what starts the tally.
        plan: the plan that it starts from.
        members: ids of the checks that are given its summaries, in order.
    """

    source: PointCheck | Family
    plan: Plan
    members: tuple[str, ...]

    @property
    def speaker(self) -> str:
        """Return the check in whose name the tally is called."""
        return self.members[0]


def group_checks(
    checks: Mapping[str, PointCheck], plugins: Mapping[str, str]
) -> tuple[tuple[str, ...], ...]:
    """Return the ids of checks that count together, in the order of the first of each group.

    Args:
        checks: checks that read points, by id.
        plugins: name of the plugin of each; families of different plugins have nothing in common.
    """
    groups: dict[tuple[object, str], list[str]] = {}
    for name, check in checks.items():
        key = type(check.family) if isinstance(check, FamilyCheck) else name
        groups.setdefault((key, plugins.get(name, "")), []).append(name)
    return tuple(tuple(names) for names in groups.values())


def make_feed(
    checks: Mapping[str, PointCheck], plans: Mapping[str, Plan], evidence: Evidence
) -> Feed:
    """Return the feed of one group, with the plan of the family laid into that of each member.

    Args:
        checks: the checks of the group, by id.
        plans: their plans.
        evidence: what is known before points are read.

    Raises:
        ContractError: the family prepared something else than a plan.
    """
    first, *_ = checks.items()
    name, check = first
    if not isinstance(check, FamilyCheck):
        return Feed(check, plans[name], (name,))
    shared = check.family.prepare(evidence, plans)
    if not isinstance(shared, Plan):
        raise ContractError("prepare returned no plan", found=type(shared).__name__)
    for plan in plans.values():
        vars(plan)["family"] = shared
    return Feed(check.family, shared, tuple(checks))
