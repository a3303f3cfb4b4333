"""A check as one audit runs it: with its criteria, and where each of them comes from."""

from __future__ import annotations

from functools import cached_property

from ledger.canonical import encode, make_decimals
from ledger.contract.check import Check, Criteria, PointCheck
from ledger.dataclass import dataclass
from ledger.model.audit import Criterion, Plugin, Source


@dataclass(frozen=True)
class EnabledCheck:
    """A check that is part of an audit.

    Args:
        check: the check.
        plugin: what supplies it.
        criteria: its thresholds, validated; None while one that has no default is blank.
        applied: each threshold with its source, in the order of the model.
        unconfirmed: keys of `job.toml` among them that were carried over from another job and
            that nobody confirmed: the check may fail on them but not pass.
    """

    check: Check
    plugin: Plugin
    criteria: Criteria | None
    applied: tuple[Criterion, ...] = ()
    unconfirmed: tuple[str, ...] = ()

    @property
    def reads_points(self) -> bool:
        """Say whether the check has to wait for points, its own or those the core counts."""
        return isinstance(self.check, PointCheck) or "points" in self.check.needs

    @cached_property
    def blanks(self) -> tuple[str, ...]:
        """Return the keys of the criteria that are blank and have no default."""
        return tuple(
            f"criteria.{self.check.id}.{criterion.field}"
            for criterion in self.applied
            if criterion.source is Source.BLANK
        )

    @cached_property
    def recalled(self) -> dict[str, str]:
        """Return where each criterion comes from that is known from memory only, by field."""
        return {each.field: each.origin for each in self.applied if each.is_recalled}

    @cached_property
    def sources(self) -> dict[str, str]:
        """Return where each criterion comes from, by field name."""
        return {criterion.field: criterion.origin for criterion in self.applied}

    @cached_property
    def criterion_text(self) -> str:
        """Return the criteria as applied, as canonical JSON; empty where there are none."""
        if not self.applied:
            return ""
        values = {each.field: make_decimals(each.value) for each in self.applied}
        return encode(values).decode("utf-8")
