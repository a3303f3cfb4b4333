"""Points were kept as far out as the ground was away.

A limit of ranges below the height of the flight leaves what stands high and takes the ground.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

import numpy as np
from pydantic import Field

from ledger.contract.check import Criteria, Evidence, Finding, Grade, Plan
from ledger.model.audit import WHOLE_DELIVERY
from lidar_checks.flight.beside_family import Beside, BesideCheck, add_bins, find_percentile
from lidar_checks.flight.beside_tally import LOWEST_M, BesideSummary
from lidar_checks.flight.flight_check import PRACTICE, read_number
from lidar_checks.header.file_check import name_source, require_criteria

_HEIGHT = "flight.height_above_ground"
_LAST_SHARE = 0.9995
# Ranges that end by themselves thin out; those that were cut end at their full number.
_SHARP = 0.25


class RangeKeptCriteria(Criteria):
    """How far out points have to reach."""

    least_of_height: float = Field(
        default=1.2, gt=0, description=f"{PRACTICE}: longest range in heights above ground"
    )


class RangeKept(BesideCheck):
    """Looks at where the ranges of points end, and how."""

    id = "range-kept"
    title = "Points were kept as far out as the ground was away"
    catalogue = ("PS-05",)
    criteria = RangeKeptCriteria
    fields = (_HEIGHT,)

    def judge(
        self,
        plan: Plan,
        beside: Beside,
        counted: Mapping[str, BesideSummary],
        evidence: Evidence,
    ) -> Iterable[Finding]:
        """Judge all files together."""
        ranges = add_bins(counted.values(), "ranges")
        last = find_percentile(ranges, _LAST_SHARE)
        down = find_percentile(add_bins(counted.values(), "down"), 0.5, LOWEST_M)
        planned = [number[0] for card in evidence.flights if (number := read_number(card, _HEIGHT))]
        height = max([*planned, *([] if down is None else [down])], default=None)
        if last is None or height is None or height <= 0:
            yield self.inconclusive(
                WHOLE_DELIVERY, f"No point lies beside a line of {beside.names}."
            )
            return
        least = require_criteria(plan, RangeKeptCriteria).least_of_height
        end = int(np.ceil(last)) - 1
        sharp = bool(ranges[max(0, end - 1) : end + 1].max() >= _SHARP * np.max(ranges))
        told = (
            f"Ranges by {beside.names} end at {end + 1} m, {(end + 1) / height:.2f} times the "
            f"height above ground ({height:.0f} m)"
        )
        parts = {
            "observed": f"{end + 1}",
            "required": f"{least * height:.0f}",
            "unit": "m",
            "criterion_source": name_source(plan, "least_of_height"),
        }
        if end + 1 < least * height and sharp and not _is_nadir_whole(ranges, end, height):
            yield self.nonconforming(
                Grade.MINOR,
                WHOLE_DELIVERY,
                f"{told}, all at once: they were cut there, and ground is missing (limit "
                f"{least:g} times).",
                remedy="Raise the longest range that is kept, and process again",
                **parts,
            )
        else:
            yield self.conforms(WHOLE_DELIVERY, f"{told}.", **parts)


def _is_nadir_whole(ranges: np.ndarray, end: int, height: float) -> bool:
    """Say whether ranges end beyond the ground straight below: a narrow scan, and nothing cut."""
    return end + 1 > height + 1 and int(ranges[int(height) : end + 1].sum()) > 0
