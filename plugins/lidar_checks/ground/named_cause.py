"""Is there a known mistake behind a constant or a pattern in the residuals, and which one.

Every mistake that this job's own records allow to be worked out is predicted at the checkpoints
before the residuals are looked at; see `causes/`. The deliverable itself is never changed: what a
named cause would leave is worked out on the residuals alone.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any, cast

import numpy as np
from pydantic import Field

from ledger.contract.check import Criteria, Evidence, Figure, Finding, Grade, Plan
from ledger.model.audit import WHOLE_DELIVERY
from ledger.model.phrases import count_things
from ledger.model.surveypoints import CHECKPOINTS, VEGETATED
from lidar_checks.ground.causes.diagnosis import diagnose
from lidar_checks.ground.causes.findings import ACCURACY, Findings
from lidar_checks.ground.causes.gather import gather
from lidar_checks.ground.causes.observed import collect
from lidar_checks.ground.causes.placement import ENOUGH, Box, find_placements
from lidar_checks.ground.causes.predict import predict
from lidar_checks.ground.checkpoint_outliers import CheckpointOutliersCriteria
from lidar_checks.ground.named_blunders import name_blunders
from lidar_checks.ground.residual_family import ResidualPlan
from lidar_checks.ground.residuals import GroundCheck, Residual, list_residuals
from lidar_checks.ground.sample import Sample
from lidar_checks.ground.strata import find_stratum

_PRACTICE = "common practice, no source"
_SETTINGS = (
    *("base-antenna", "base-chain", "base-height", "clock-offset", "frame-chain"),
    *("height-chain", "lever-arm-chain", "time-scale"),
)


class NamedCauseCriteria(Criteria):
    """What counts as an offset, and what as a bad one.

    An offset that makes the root mean square larger than `rmse_max_m` is major when it has a name;
    where `criteria.vertical-accuracy` states its own limit, that one counts.
    """

    offset_min_m: float = Field(default=0.02, gt=0, description=_PRACTICE)
    rmse_max_m: float = Field(default=0.05, gt=0, description=_PRACTICE)


class NamedCause(GroundCheck):
    """No known mistake explains the residuals."""

    id = "named-cause"
    revision = 5
    title = "No known mistake explains the residuals"
    catalogue = (
        *("CR-01", "CR-02", "CR-03", "CR-04", "CR-07", "CR-08", "CR-09", "CR-12", "CR-13"),
        *("GN-01", "GN-02", "GN-04", "GN-05", "GN-06", "GN-14", "MB-02", "MB-03", "MB-04"),
        *("MB-05", "MB-06", "MB-07", "MB-09", "SL-08"),
        *("UN-01", "UN-02", "UN-03", "UN-04", "VD-01", "VD-02", "VD-03", "VD-04", "VD-05"),
        *("VD-07", "VD-09", "VD-10", "VD-11"),
    )
    specification_keys = (
        *GroundCheck.specification_keys,
        "coordinates.epoch",
        "coordinates.geoid.file",
    )
    fields = (
        "flight.base_antenna_offset",
        "flight.base_antenna_radius",
        "flight.base_frame",
        "flight.base_height",
        "flight.base_height_again",
        "flight.base_height_kind",
        "flight.base_mark",
        "flight.base_phase_centre",
        "flight.frame",
        "flight.height_above_ground",
        "flight.position_source",
        "flight.rig",
        "flight.service_frame",
        "flight.takeoff",
        "rig.lever_arm_aircraft",
        "rig.lever_arm_convention",
        "rig.lever_arm_scanner",
        "run.crs",
        "run.frame",
        "run.geoid_file",
        "run.geoid_frame",
        "run.trajectory_crs",
        "step.frame",
        "step.geoid_frame",
    )
    criteria = NamedCauseCriteria
    after = (*_SETTINGS, ACCURACY)
    explains = (ACCURACY, "horizontal-accuracy", "checkpoint-outliers")

    def finish(
        self, plan: Plan, summaries: Mapping[str, Any], evidence: Evidence
    ) -> Iterable[Finding | Figure]:
        """Diagnose the checkpoints of the delivery together."""
        asked = cast("NamedCauseCriteria", plan.criteria)
        listed = list_residuals(plan, summaries)
        # In vegetation a cloud lies high by what it did not get through.
        open_ground = [each for each in listed if find_stratum(each.stratum) != VEGETATED]
        # A cloud lies near what it was fitted to, and would draw every mean to zero there.
        sample = Sample(open_ground, evidence)
        residuals = sample.independent
        if not residuals:
            told = f"No independent checkpoint outside vegetation is left.{sample.tell_left_out()}"
            yield self.not_assessed(WHOLE_DELIVERY, told, (CHECKPOINTS,))
            return
        observed = collect(residuals)
        if not observed.count:
            yield self._tell_off_cloud(plan, residuals, evidence)
            return
        predictions = predict(gather(observed, evidence))
        doubted = [name for name, found in evidence.results.items() if any(e.grade for e in found)]
        blunders = _name_blunders(residuals)
        found = diagnose(observed, predictions, asked.offset_min_m, doubted, blunders)
        yield from Findings(self, plan, evidence, observed, _find_limit(asked, evidence)).tell(
            found
        )

    def _tell_off_cloud(
        self, plan: Plan, residuals: Sequence[Residual], evidence: Evidence
    ) -> Finding:
        """Say why no checkpoint has a height, and what would bring them onto the cloud."""
        off = [each for each in residuals if each.is_off_cloud and each.is_placed]
        if not off or len(off) < ENOUGH * len(residuals) or evidence.specified_crs is None:
            return self._tell_none(residuals)
        east, north = (np.array([getattr(e, axis) for e in off]) for axis in ("east_m", "north_m"))
        boxes = _list_boxes(plan, evidence)
        found = find_placements(east, north, boxes, evidence.specified_crs)
        count = count_things(len(off), "checkpoint")
        if not found:
            return self.inconclusive(
                WHOLE_DELIVERY,
                f"The cloud has no point near any of {count}, and no known mistake would bring "
                "them onto it.",
            )
        told = " or ".join(each.reading.clause for each in found)
        either = "either " if len(found) > 1 else ""
        return self.nonconforming(
            Grade.MAJOR,
            WHOLE_DELIVERY,
            f"The cloud has no point near any of {count}; {found[0].inside} of them would lie on "
            f"it if {either}{told}.",
            observed=f"0 of {len(off)}",
            required=f"{len(off)} of {len(off)}",
            unit="checkpoints on the cloud",
            remedy=found[0].reading.remedy,
            catalogue=tuple(dict.fromkeys(n for each in found for n in each.reading.catalogue)),
        )

    def _tell_none(self, residuals: Sequence[Residual]) -> Finding:
        reasons = sorted({each.reason for each in residuals if each.reason})
        why = f": {reasons[0]}" if reasons else ""
        return self.not_assessed(
            WHOLE_DELIVERY, f"No checkpoint has a height of the cloud{why}.", ("residuals",)
        )


def _name_blunders(residuals: Sequence[Residual]) -> list[str]:
    """Return the ids of the points that are told as blunders."""
    points = [each for each in residuals if each.dz is not None]
    asked = CheckpointOutliersCriteria()
    found = name_blunders(points, asked.off_min_m, asked.block_step_min_m)
    return [points[place].id for place in sorted(found.places)]


def _list_boxes(plan: Plan, evidence: Evidence) -> list[Box]:
    """Return west, south, east and north of the files that checkpoints are held against, metres."""
    units = cast("ResidualPlan", plan.family).units
    if units.common is None:
        return []
    size = float(units.common.metres)
    headers = (
        file.header
        for file in evidence.point_files
        if file.path in units.heights and file.header is not None
    )
    return [
        (
            size * header.minimum[0],
            size * header.minimum[1],
            size * header.maximum[0],
            size * header.maximum[1],
        )
        for header in headers
    ]


def _find_limit(asked: NamedCauseCriteria, evidence: Evidence) -> float:
    """Return the limit of the root mean square: that of the accuracy where one is stated."""
    section = evidence.specification.criteria.get(ACCURACY)
    stated = section.get("rmse_max_m") if isinstance(section, Mapping) else None
    return float(stated) if isinstance(stated, (int, float)) and stated > 0 else asked.rmse_max_m


__all__ = ["NamedCause", "NamedCauseCriteria"]
