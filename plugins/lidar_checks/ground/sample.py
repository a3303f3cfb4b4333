"""The checkpoints of a job as a test sees them: which count, which do not, and why.

A checkpoint that the cloud was fitted to tests nothing and is left out of every statistic; so is
one at which the cloud gives no height. Both are counted and told, never dropped in silence.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import field
from functools import cached_property

from ledger.contract.evidence import Evidence
from ledger.dataclass import dataclass
from ledger.model.phrases import agree, count_things
from ledger.model.surveypoints import CHECKPOINTS, CONTROL, VEGETATED, PointTable
from lidar_checks.ground.control_use import ControlUse, find_control_use
from lidar_checks.ground.flown import Flown
from lidar_checks.ground.placing import list_unproven
from lidar_checks.ground.residuals import Residual
from lidar_checks.ground.reuse import Reuse, find_conflicts, find_repeated, find_reuse
from lidar_checks.ground.strata import find_stratum

FEWEST = 3
"""Points that a statistic needs before anything is judged by it (common practice, no source)."""


@dataclass(frozen=True)
class Sample:
    """Checkpoints and what is known of each.

    Args:
        residuals: all residuals of the job, control among them.
        evidence: everything else that is known.
        flown: strips and minutes of all points of the delivery.
    """

    residuals: Sequence[Residual]
    evidence: Evidence
    flown: Flown = field(default_factory=Flown)

    @cached_property
    def checkpoints(self) -> tuple[Residual, ...]:
        """Return every checkpoint, whether the cloud says anything of it or not."""
        return tuple(each for each in self.residuals if each.kind == CHECKPOINTS)

    @cached_property
    def control(self) -> tuple[Residual, ...]:
        """Return every control point."""
        return tuple(each for each in self.residuals if each.kind == CONTROL)

    @cached_property
    def tables(self) -> tuple[PointTable, ...]:
        """Return the tables of checkpoints."""
        return tuple(table for table in self.evidence.tables if table.kind == CHECKPOINTS)

    @cached_property
    def use(self) -> ControlUse:
        """Return what is known of the control behind the delivery."""
        return find_control_use(self.evidence)

    @cached_property
    def listed_twice(self) -> tuple[Reuse, ...]:
        """Return the checkpoints that are also in a table of control, used or not."""
        return find_reuse(self.checkpoints, self.control)

    @cached_property
    def reused(self) -> tuple[Reuse, ...]:
        """Return those of them that a run was, or may have been, fitted to."""
        digests = {table.path: table.sha256 for table in self.evidence.tables}
        return tuple(
            each
            for each in self.listed_twice
            if self.use.find_users(digests.get(each.control.table, ""))
        )

    @cached_property
    def fitted_tables(self) -> tuple[PointTable, ...]:
        """Return the tables of checkpoints that a run names as its control."""
        return tuple(table for table in self.tables if table.sha256 in self.use.users)

    @cached_property
    def independent(self) -> tuple[Residual, ...]:
        """Return the checkpoints that nothing on record was fitted to."""
        fitted = {table.path for table in self.fitted_tables}
        taken = {id(each.checkpoint) for each in self.reused}
        taken |= {id(each) for each in (*self.repeated, *self.contradicted)}
        return tuple(
            each for each in self.checkpoints if each.table not in fitted and id(each) not in taken
        )

    @cached_property
    def repeated(self) -> tuple[Residual, ...]:
        """Return the checkpoints that are listed once more: in another table, or twice in one."""
        contradicted = {id(each) for each in self.contradicted}
        return find_repeated(each for each in self.checkpoints if id(each) not in contradicted)

    @cached_property
    def conflicts(self) -> tuple[tuple[Residual, ...], ...]:
        """Return the checkpoints of each spot that is listed with several heights."""
        return find_conflicts(self.checkpoints)

    @cached_property
    def contradicted(self) -> tuple[Residual, ...]:
        """Return all of them: which height is right nobody knows, and none counts."""
        return tuple(each for place in self.conflicts for each in place)

    @cached_property
    def not_counted(self) -> tuple[Residual, ...]:
        """Return the checkpoints that stand in no statistic of heights."""
        counted = {id(each) for each in self.judged}
        return tuple(each for each in self.checkpoints if id(each) not in counted)

    @cached_property
    def judged(self) -> tuple[Residual, ...]:
        """Return the independent checkpoints at which the cloud has a height."""
        return tuple(each for each in self.independent if each.dz is not None)

    @cached_property
    def open_ground(self) -> tuple[Residual, ...]:
        """Return the judged checkpoints that nobody said stand in vegetation."""
        return tuple(each for each in self.judged if find_stratum(each.stratum) != VEGETATED)

    @cached_property
    def vegetated(self) -> tuple[Residual, ...]:
        """Return the judged checkpoints that stand in vegetation."""
        return tuple(each for each in self.judged if find_stratum(each.stratum) == VEGETATED)

    @cached_property
    def picked(self) -> tuple[Residual, ...]:
        """Return the independent checkpoints whose target was picked in the cloud."""
        return tuple(
            each for each in self.independent if each.dx is not None and each.dy is not None
        )

    @cached_property
    def unproven(self) -> tuple[str, ...]:
        """Return what is declared of the tables and was assumed, or carried and not confirmed."""
        return tuple(
            f"{name} of {table.path}" for table in self.tables for name in list_unproven(table)
        )

    def tell_left_out(self) -> str:
        """Return which checkpoints count for nothing, as a sentence; empty for none."""
        again, unclear = len(self.repeated), len(self.contradicted)
        used = len(self.checkpoints) - len(self.independent) - again - unclear
        blind = len(self.independent) - len(self.judged)
        parts = []
        if again:
            parts.append(f"{again} {agree(again, 'is', 'are')} listed once more")
        if unclear:
            told = agree(unclear, "contradicts", "contradict")
            parts.append(f"{unclear} {told} another height of the same spot")
        if used:
            parts.append(f"{used} {agree(used, 'was', 'were')} control")
        if blind:
            parts.append(f"{blind} {agree(blind, 'gives', 'give')} no height of the cloud")
        if not parts:
            return ""
        return f" Of {count_things(len(self.checkpoints), 'checkpoint')} {', '.join(parts)}."


def list_heights(residuals: Sequence[Residual]) -> list[float]:
    """Return the errors in height of residuals that have one, metres."""
    return [each.dz for each in residuals if each.dz is not None]


def name_points(residuals: Sequence[Residual], most: int = 8) -> str:
    """Return the names of some points as a list, with how many more there are."""
    names = [each.id for each in residuals[:most]]
    more = len(residuals) - len(names)
    return ", ".join(names) + (f" and {more} more" if more else "")
