"""Where the criteria that decided a finding come from."""

from __future__ import annotations

from ledger.contract.check import Plan


def name_sources(plan: Plan, *fields: str) -> str:
    """Return the sources of some criteria as one text; empty where the runner gave none."""
    return "; ".join(f"{field}: {plan.sources[field]}" for field in fields if field in plan.sources)
