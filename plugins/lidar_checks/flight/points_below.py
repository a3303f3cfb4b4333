"""Points lie below the scanner that flew, and it flew as the mount mode says.

A scanner below an aircraft sees the ground below it. Points above the path are of a mount mode or
an orientation that was set wrong; a path high above the ground and fast is no walk.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

import numpy as np
from pydantic import Field

from ledger.contract.check import Criteria, Evidence, Finding, Grade, Plan
from ledger.model.audit import WHOLE_DELIVERY
from lidar_checks.flight.beside_family import Beside, BesideCheck, add_bins, add_up, find_percentile
from lidar_checks.flight.beside_tally import LOWEST_M, BesideSummary
from lidar_checks.flight.flight_check import PRACTICE
from lidar_checks.flight.paths import find_lines, make_path
from lidar_checks.header.file_check import name_source, require_criteria

_MODE = "flight.mount_mode"
_AIRBORNE_M, _AIRBORNE_SPEED = 10.0, 2.0


class PointsBelowCriteria(Criteria):
    """How many points may lie above the path."""

    tell_share: float = Field(default=0.05, gt=0, lt=1, description=PRACTICE)
    max_share: float = Field(default=0.5, gt=0, lt=1, description=PRACTICE)


class PointsBelow(BesideCheck):
    """Counts points that lie higher than the path at their moment."""

    id = "points-below"
    title = "Points lie below the aircraft, as the mount mode says"
    catalogue = ("MB-01", "RC-08")
    criteria = PointsBelowCriteria
    fields = (_MODE,)

    def judge(
        self,
        plan: Plan,
        beside: Beside,
        counted: Mapping[str, BesideSummary],
        evidence: Evidence,
    ) -> Iterable[Finding]:
        """Judge all files together."""
        criteria = require_criteria(plan, PointsBelowCriteria)
        bins = add_bins(counted.values(), "ranges")
        placed = int(bins.sum())
        if not placed:
            yield self.inconclusive(
                WHOLE_DELIVERY, f"No point lies beside a line of {beside.names}."
            )
            return
        share = add_up(counted.values(), "above") / placed
        told = f"{share:.1%} of the points lie above the path by {beside.names}"
        field = "max_share" if share > criteria.max_share else "tell_share"
        parts: dict[str, Any] = {
            "observed": f"{share:.1%}",
            "required": f"{getattr(criteria, field):.0%}",
            "criterion_source": name_source(plan, field),
        }
        if share > criteria.tell_share and beside.heights == "same":
            is_inverted = share > criteria.max_share
            yield self.nonconforming(
                Grade.MAJOR if is_inverted else Grade.OBSERVATION,
                WHOLE_DELIVERY,
                f"{told}: "
                + (
                    "the scanner was set to another mount mode or orientation than it had, or the "
                    "heights of the cloud have another unit than those of the path."
                    if is_inverted
                    else "walls or trees beside the flight, or a tilt that was set wrong."
                ),
                remedy="Compare mount mode and orientation of the run with the photo of the mount"
                + (", and the unit of the heights with job.toml" if is_inverted else ""),
                **parts,
            )
        elif share > criteria.tell_share:
            yield self.inconclusive(
                WHOLE_DELIVERY,
                f"{told}, which may have another kind of height than the points.",
                **parts,
            )
        else:
            yield self.conforms(WHOLE_DELIVERY, f"{told}.", **parts)
        yield from self._judge_mode(beside, counted, evidence)

    def _judge_mode(
        self, beside: Beside, counted: Mapping[str, BesideSummary], evidence: Evidence
    ) -> Iterable[Finding]:
        height = find_percentile(add_bins(counted.values(), "down"), 0.5, LOWEST_M)
        speeds = [
            line.speed
            for track in beside.tracks
            if (path := make_path(track)) is not None
            for line in find_lines(path)
        ]
        if height is None or not speeds or beside.heights != "same":
            return
        speed = float(np.median(speeds))
        if height < _AIRBORNE_M or speed < _AIRBORNE_SPEED:
            return
        for card in evidence.flights:
            mode = card.values.get(_MODE)
            if mode is not None and mode.value != "drone" and card.id in beside.flights:
                yield self.nonconforming(
                    Grade.MINOR,
                    card.id,
                    f"{card.id} was {height:.0f} m above the ground at {speed:.1f} m/s, so flown; "
                    f"the mount mode on its card is {mode.value}.",
                    observed=str(mode.value),
                    required="drone",
                    criterion_source=PRACTICE,
                    catalogue=("RC-08", "MB-01"),
                    remedy="Find out which mode the scanner was set to, and whether the run was "
                    "processed with it",
                )
