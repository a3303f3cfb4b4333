"""The ground round each checkpoint: may the height of the cloud be taken there.

A plane through ten points within half a metre, on ground that neither slopes nor scatters much:
common practice, no source. ASPRS Positional Accuracy Standards, Edition 2, asks for checkpoints on
flat or uniformly sloping open ground without breaks.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from typing import Any, cast

from ledger.contract.check import Finding, Grade, Plan, Where
from ledger.contract.evidence import Evidence
from ledger.model.audit import WHOLE_DELIVERY
from ledger.model.phrases import agree, count_things
from ledger.model.surveypoints import CHECKPOINTS, PointTable
from ledger.model.typed import quote_path
from lidar_checks.cloud.criterion_source import name_sources
from lidar_checks.ground.placing import NO_HEIGHT, list_unproven
from lidar_checks.ground.residual_family import PATCH_CHECK, PatchCriteria, ResidualPlan
from lidar_checks.ground.residuals import GroundCheck, Residual, list_residuals, list_unusable

_MOST_NAMED = 20
_PRACTICE = "common practice, no source"
_DECLARE = "Say what the columns and coordinates of the table are: swathbook record points TABLE"


class CheckpointPatch(GroundCheck):
    """Checkpoints on ground where a height can be taken."""

    id = PATCH_CHECK
    revision = 2
    title = "Checkpoints lie where the cloud shows one smooth ground"
    catalogue = ("CP-04",)
    criteria = PatchCriteria

    def finish(
        self,
        plan: Plan,
        summaries: Mapping[str, Any],
        evidence: Evidence,
    ) -> Iterable[Finding]:
        """Say of each table which points are used, and of each other point why not."""
        for path, sentence in list_unusable(plan):
            needs = ("one unit of length",)
            yield self.not_assessed(path, sentence, needs, where=Where(file=path))
        residuals = list_residuals(plan, summaries)
        for table in evidence.tables:
            if table.kind == CHECKPOINTS and table.fault:
                told = f"{table.path} was not read: {table.fault}."
                yield self.not_assessed(table.path, told, (CHECKPOINTS,), remedy=_DECLARE)
            elif table.kind == CHECKPOINTS:
                mine = [each for each in residuals if each.table == table.path]
                yield from self._judge(plan, table, mine, evidence)

    def _judge(
        self, plan: Plan, table: PointTable, mine: Sequence[Residual], evidence: Evidence
    ) -> Iterable[Finding]:
        """Return what is to be said of one table."""
        all_of = f"the {count_things(len(mine), 'checkpoint')} of {table.path}"
        if not mine:
            yield self.inconclusive(WHOLE_DELIVERY, f"{table.path} holds no point.")
            return
        if not any(each.is_placed for each in mine):
            reasons = sorted({each.reason for each in mine})
            sentence = f"None of {all_of} was used: {'; '.join(reasons)}."
            yield self.not_assessed(WHOLE_DELIVERY, sentence, reasons, remedy=_DECLARE)
            return
        outside = [each for each in mine if each.is_placed and each.is_off_cloud]
        if outside:
            yield self._tell_outside(plan, outside, len(mine), evidence)
        for each in mine:
            if each.dz is None and not each.is_off_cloud:
                yield self._tell_unused(plan, each)
        used = [each for each in mine if each.dz is not None]
        if used:
            yield self._tell_used(plan, table, used, len(mine))
        else:
            yield self.inconclusive(WHOLE_DELIVERY, f"None of {all_of} could be used.")

    def _tell_unused(self, plan: Plan, residual: Residual) -> Finding:
        name = f"checkpoint {residual.id}"
        remedy = "Judge no height by it; survey another point on flat, hard, open ground."
        if residual.reason == NO_HEIGHT:
            remedy = "Write its height into the table, or take its row out, and record it again."
        return self.nonconforming(
            Grade.OBSERVATION,
            name,
            f"Checkpoint {residual.id} was not used: {residual.reason}.",
            criterion_source=name_sources(plan, *PatchCriteria.model_fields),
            remedy=remedy,
            where=Where(xy=_find_place(residual, plan)),
        )

    def _tell_outside(
        self, plan: Plan, outside: Sequence[Residual], many: int, evidence: Evidence
    ) -> Finding:
        """Return that the cloud does not reach some points; where it reaches none, what may be."""
        told = (
            f"{len(outside)} of {count_things(many, 'checkpoint')} of {outside[0].table} "
            f"{agree(len(outside), 'lies', 'lie')} where the cloud has no point: {_name(outside)}."
        )
        grade, remedy = Grade.OBSERVATION, "Nothing was tested there: deliver the place, or say so."
        if len(outside) == many:
            grade = Grade.MINOR
            remedy = "Look at the coordinate system and the columns declared for the table."
            if _would_fit_swapped(outside, plan, evidence):
                told += " With easting and northing exchanged they would lie on it."
                remedy = "Declare which column is the easting and which the northing."
        return self.nonconforming(
            grade,
            outside[0].table,
            told,
            observed=str(many - len(outside)),
            required="at least 1" if len(outside) == many else str(many),
            unit="checkpoints on the cloud",
            criterion_source=_PRACTICE,
            remedy=remedy,
        )

    def _tell_used(
        self, plan: Plan, table: PointTable, used: Sequence[Residual], many: int
    ) -> Finding:
        """Return which points were used, and on what their heights stand."""
        counts = [each.count for each in used]
        sentence = (
            f"{len(used)} of {count_things(many, 'checkpoint')} of {table.path} "
            f"{agree(len(used), 'was', 'were')} held against the {used[0].surface}, by planes "
            f"through {min(counts)} to {max(counts)} points{_tell_ground(used)}. Cloud less "
            f"survey: {_tell_heights(used)}."
        )
        unproven = list_unproven(table)
        if unproven:
            names = " and ".join(unproven)
            return self.inconclusive(
                WHOLE_DELIVERY,
                f"{sentence} But {names} of the table {agree(len(unproven), 'was', 'were')} "
                "assumed, or carried over and not confirmed.",
                remedy=f"Confirm {names}: swathbook record points {quote_path(table.path)}",
            )
        asked = cast("PatchCriteria", plan.criteria)
        return self.conforms(
            WHOLE_DELIVERY,
            sentence,
            observed=str(min(counts)),
            required=f"at least {asked.fewest_points}",
            unit="points",
            criterion_source=name_sources(plan, "fewest_points"),
        )


def _tell_ground(used: Sequence[Residual]) -> str:
    """Return the steepest and the roughest of the surfaces, as the end of a clause."""
    slopes = [math.hypot(*each.gradient) for each in used if each.gradient is not None]
    rough = [each.roughness_m for each in used if each.roughness_m is not None]
    told = f", sloping at most {max(slopes):.1%}" if slopes else ""
    return told + (f", rough by at most {max(rough):.3f} m" if rough else "")


def _tell_heights(used: Sequence[Residual]) -> str:
    told = [f"{each.id} {each.dz:+.3f}" for each in used[:_MOST_NAMED]]
    more = f" and {len(used) - _MOST_NAMED} more" if len(used) > _MOST_NAMED else ""
    return f"{', '.join(told)} m{more}"


def _name(residuals: Sequence[Residual]) -> str:
    named = ", ".join(each.id for each in residuals[:_MOST_NAMED])
    more = len(residuals) - _MOST_NAMED
    return f"{named} and {more} more" if more > 0 else named


def _find_place(residual: Residual, plan: Plan) -> tuple[float, float] | None:
    """Return the place in the unit of the files; None where it has none."""
    common = cast("ResidualPlan", plan.family).units.common
    if common is None or not residual.is_placed:
        return None
    return residual.east_m / float(common.metres), residual.north_m / float(common.metres)


def _would_fit_swapped(outside: Sequence[Residual], plan: Plan, evidence: Evidence) -> bool:
    """Say whether most points would lie in the box of some file with their axes exchanged."""
    places = [_find_place(each, plan) for each in outside]
    boxes = [
        (file.reading.minimum, file.reading.maximum)
        for file in evidence.point_files
        if file.reading is not None and file.reading.minimum and file.reading.maximum
    ]
    inside = [
        any(low[0] <= north <= high[0] and low[1] <= east <= high[1] for low, high in boxes)
        for east, north in filter(None, places)
    ]
    return sum(inside) * 2 > len(outside)
