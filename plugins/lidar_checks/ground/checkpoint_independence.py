"""Checkpoints that nothing was fitted to, surveyed from another base than the flight's.

A cloud fits the points that it was fitted to, whatever it does elsewhere. A base in the wrong place
moves cloud and checkpoints alike, so that both agree and both are wrong.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator

import numpy as np

from ledger.contract.check import Finding, Grade, Plan
from ledger.model.audit import WHOLE_DELIVERY
from ledger.model.phrases import agree, count_things
from ledger.model.surveypoints import PointTable
from lidar_checks.ground.checkpoint_check import PRACTICE, CheckpointCheck
from lidar_checks.ground.control_use import CONTROL_USED
from lidar_checks.ground.error_statistics import compute_rmse
from lidar_checks.ground.reuse import Reuse, describe_reuse
from lidar_checks.ground.sample import Sample, list_heights
from lidar_checks.ground.shared_base import BASE_FIELDS, BaseState, judge_base

_SOURCE = (
    "FGDC-STD-007.3-1998, 3.2: tested against an independent source of higher accuracy; "
    "nearer than 0.05 m is the same point by common practice"
)
_MOST_NAMED = 6

FLAT_MAX = 0.02
"""A mean that is a smaller share of its own standard error than this, on all three axes, is too
good: by chance 0.016 on each axis (2 x the normal distribution up to 0.02), 4 in a million on all
three."""

FLAT_FEWEST = 5


class CheckpointIndependence(CheckpointCheck):
    """Independence of checkpoints from what the cloud was fitted to."""

    id = "checkpoint-independence"
    title = "Nothing was fitted to the checkpoints, and they do not share the base of the flight"
    catalogue = ("CP-01", "CP-03", "SC-21")
    fields = (CONTROL_USED, *BASE_FIELDS)

    def judge(self, plan: Plan, sample: Sample) -> Iterable[Finding]:  # noqa: ARG002 - no criteria
        """Judge reuse of points, then the pattern of the errors, then the base."""
        against = tuple(self._judge_reuse(sample))
        flat = self._judge_flatness(sample)
        yield from against
        if flat is not None:
            yield flat
        if not against and flat is None:
            yield self._tell_independent(sample)
        for table in sample.tables:
            yield self._judge_base(table, sample)

    def _judge_reuse(self, sample: Sample) -> Iterator[Finding]:
        for table in sample.fitted_tables:
            users = ", ".join(sample.use.users[table.sha256])
            yield self._tell_reuse(
                sample,
                table.path,
                f"{table.path} tests this delivery and was control of {users}: points that were "
                "fitted to show no accuracy.",
                len(table.points),
            )
        if sample.reused:
            yield self._tell_pairs(sample)
        taken = {id(each.checkpoint) for each in sample.reused}
        spare = [each for each in sample.listed_twice if id(each.checkpoint) not in taken]
        if spare:
            yield self._tell_listed_twice(sample, spare)

    def _tell_pairs(self, sample: Sample) -> Finding:
        reused = {id(each.checkpoint): each for each in sample.reused}
        users = sorted(
            {
                user
                for table in sample.evidence.tables
                if table.path in {each.control.table for each in sample.reused}
                for user in sample.use.find_users(table.sha256)
            }
        )
        number, total = len(reused), len(sample.checkpoints)
        return self._tell_reuse(
            sample,
            WHOLE_DELIVERY,
            f"{number} of {count_things(total, 'checkpoint')} {agree(number, 'was', 'were')} also "
            f"used as control by {', '.join(users)}: {_list_pairs(reused.values())}.",
            number,
        )

    def _tell_reuse(self, sample: Sample, subject: str, sentence: str, number: int) -> Finding:
        heights = list_heights(sample.judged)
        rest = " No checkpoint is left that shows an accuracy."
        if heights:
            rest = (
                f" On the other {len(heights)} the RMSE of heights is {compute_rmse(heights):.3f} m"
                f", mean {float(np.mean(heights)):+.3f} m."
            )
        return self.nonconforming(
            Grade.MAJOR,
            subject,
            sentence + rest,
            observed=str(number),
            required="0",
            unit="points",
            criterion_source=_SOURCE,
            remedy="State the accuracy of the other points alone, or process again without these "
            "as control.",
            catalogue=("CP-01", "SC-21"),
        )

    def _tell_listed_twice(self, sample: Sample, spare: list[Reuse]) -> Finding:
        number = len({id(each.checkpoint) for each in spare})
        if sample.use.is_known:
            return self.nonconforming(
                Grade.OBSERVATION,
                WHOLE_DELIVERY,
                f"{count_things(number, 'checkpoint')} {agree(number, 'is', 'are')} listed twice, "
                f"as control too, but no run used it as control: {_list_pairs(spare)}.",
                observed=str(number),
                required="0",
                unit="points",
                criterion_source=_SOURCE,
                remedy="Take them out of one of the two tables before the next run.",
                catalogue=("CP-01", "SC-21"),
            )
        return self.inconclusive(
            WHOLE_DELIVERY,
            f"{count_things(number, 'checkpoint')} {agree(number, 'is', 'are')} listed as control "
            f"too ({_list_pairs(spare)}), and {sample.use.question}.",
            remedy=sample.use.remedy,
            catalogue=("CP-01", "SC-21"),
        )

    def _judge_flatness(self, sample: Sample) -> Finding | None:
        """Return the finding that means are zero on all axes, as those of fitted points are."""
        share = measure_flatness(sample)
        if share is None or share >= FLAT_MAX:
            return None
        number = sum(each.dz is not None for each in sample.picked)
        return self.nonconforming(
            Grade.MINOR,
            WHOLE_DELIVERY,
            f"The mean error of {count_things(number, 'checkpoint')} is zero on all three "
            "axes, closer than chance allows: errors are so after a fit to the same points.",
            observed=f"{share:.3f}",
            required=f"at least {FLAT_MAX:g}",
            unit="standard errors of the mean",
            criterion_source="4 in a million by chance, normal distribution",
            remedy="Find out whether the cloud was shifted or fitted to these points, and record "
            "that step.",
            catalogue=("CP-01",),
        )

    def _tell_independent(self, sample: Sample) -> Finding:
        number = len(sample.independent)
        told = f"None of {count_things(number, 'checkpoint')} is on record as control"
        if not sample.use.is_known:
            return self.inconclusive(
                WHOLE_DELIVERY, f"{told}, and {sample.use.question}.", remedy=sample.use.remedy
            )
        if sample.use.unnamed and not sample.control:
            users = ", ".join(sample.use.unnamed)
            return self.inconclusive(
                WHOLE_DELIVERY,
                f"{told}, but {users} used control and no table of it is on record: which points "
                "those were nobody can tell.",
                remedy="Register the table of the control (swathbook register PATH --as control) "
                "and say what it holds",
            )
        return self.conforms(WHOLE_DELIVERY, f"{told}.")

    def _judge_base(self, table: PointTable, sample: Sample) -> Finding:
        state, told = judge_base(table, sample.evidence)
        parts = {"catalogue": ("CP-03",)}
        if state is BaseState.SHARED:
            return self.nonconforming(
                Grade.MINOR,
                table.path,
                told,
                observed="the base of the flight",
                required="another base, or one on a known mark",
                criterion_source=PRACTICE,
                remedy="Tie the base to two published marks and record it, or state the accuracy "
                "as relative to this base.",
                **parts,
            )
        if state is BaseState.UNKNOWN:
            return self.inconclusive(
                table.path,
                told,
                remedy="Say which base the checkpoints were surveyed from when their table is "
                "declared.",
                **parts,
            )
        return self.conforms(table.path, told, **parts)


def measure_flatness(sample: Sample) -> float | None:
    """Return the mean in its own standard errors, on the axis where that is most.

    None of fewer than five targets. Below `FLAT_MAX` the means are zero as those of points are that
    something was fitted to.
    """
    picked = [each for each in sample.picked if each.dz is not None]
    if len(picked) < FLAT_FEWEST:
        return None
    shares = []
    for axis in ("dx", "dy", "dz"):
        values = np.array([getattr(each, axis) for each in picked])
        error = float(values.std(ddof=1)) / math.sqrt(len(values))
        shares.append(abs(float(values.mean())) / error if error > 0 else math.inf)
    return max(shares)


def _list_pairs(pairs: Iterable[Reuse]) -> str:
    # A pair that two tables of control hold reads the same both times.
    listed = list(dict.fromkeys(describe_reuse(each) for each in pairs))
    shown = ", ".join(listed[:_MOST_NAMED])
    more = len(listed) - _MOST_NAMED
    return f"{shown} and {more} more" if more > 0 else shown
