"""The mount held still: the roll between opposite swaths is one and the same all flight long.

A calibration that is off tilts all pairs of opposite swaths alike; a bracket that slips tilts those
from then on differently. Each pair gives an angle by itself, that of both its swaths together;
where it has cells enough, its first half by time and its second give one each.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from pydantic import Field

from ledger.contract.check import Criteria, Finding, Grade, Plan, Where
from ledger.dataclass import dataclass
from ledger.model.audit import WHOLE_DELIVERY
from ledger.model.phrases import count_things
from lidar_checks.flight.beside_family import Beside
from lidar_checks.flight.flight_check import PRACTICE, list_times, say_time
from lidar_checks.flight.slope_check import SlopeCheck
from lidar_checks.flight.swath_slopes import SlopeFit, Slopes, fit_slope
from lidar_checks.header.file_check import name_source, require_criteria


class MountSteadyCriteria(Criteria):
    """How far the angle may wander."""

    max_change_deg: float = Field(default=0.05, gt=0, description=PRACTICE)
    fewest_cells: int = Field(default=200, ge=50, description=f"{PRACTICE}; of each stretch")


class MountSteady(SlopeCheck):
    """Fits an angle to each pair of opposite swaths, and compares them."""

    id = "mount-steady"
    title = "The roll of the scanner stays the same through the flight"
    catalogue = ("RC-04",)
    revision = 3
    criteria = MountSteadyCriteria

    def judge_slopes(self, plan: Plan, beside: Beside, slopes: Slopes | None) -> Finding:  # noqa: ARG002
        """Compare the pairs of the whole delivery."""
        fewest = require_criteria(plan, MountSteadyCriteria).fewest_cells
        pairs = [] if slopes is None else _fit_pairs(slopes, fewest)
        if len(pairs) < 2:
            return self.inconclusive(
                WHOLE_DELIVERY,
                f"Opposite swaths have fewer than twice {fewest} smooth cells in common, so that "
                "no angle can be held against another.",
            )
        return self._tell(plan, pairs)

    def _tell(self, plan: Plan, pairs: list[_Pair]) -> Finding:
        limit = require_criteria(plan, MountSteadyCriteria).max_change_deg
        low = min(pairs, key=lambda each: each.fit.angle_deg)
        high = max(pairs, key=lambda each: each.fit.angle_deg)
        change = high.fit.angle_deg - low.fit.angle_deg
        sure = float(np.hypot(low.fit.sure_deg, high.fit.sure_deg))
        first, last = sorted((low, high), key=lambda each: each.time_s)
        count = count_things(len(pairs), "stretch", "stretches")
        told = (
            f"The roll between opposite swaths is {first.fit.angle_deg:+.3f}° at "
            f"{say_time(first.time_s)} and {last.fit.angle_deg:+.3f}° at {say_time(last.time_s)}, "
            f"the widest apart of {count} (difference {change:.3f}° ± {sure:.3f}°"
        )
        parts: dict[str, Any] = {
            "observed": f"{change:.3f}",
            "required": f"{limit:g}",
            "unit": "deg",
            "criterion_source": name_source(plan, "max_change_deg"),
        }
        if change > limit and change > sure:
            return self.nonconforming(
                Grade.MINOR,
                WHOLE_DELIVERY,
                f"{told}, limit {limit:g}°): the mount moved, or gusts tilted the aircraft "
                "without the trajectory following.",
                remedy="Look at the lock of the bracket and its dampers, and fly what was measured "
                "after it moved again",
                where=Where(time_span=list_times(first.time_s, last.time_s)),
                **parts,
            )
        if sure > limit:
            return self.inconclusive(
                WHOLE_DELIVERY, f"{told}): too rough or too little ground to tell.", **parts
            )
        return self.conforms(WHOLE_DELIVERY, f"{told}).", **parts)


@dataclass(frozen=True)
class _Pair:
    fit: SlopeFit
    time_s: float


def _fit_pairs(slopes: Slopes, fewest: int) -> list[_Pair]:
    """Return the angle of each pair, or of both its halves, with enough cells; in order of time."""
    found = []
    for name in np.unique(slopes.pair).tolist():
        chosen = np.flatnonzero(slopes.pair == name)
        order = chosen[np.argsort(slopes.time_s[chosen], kind="stable")]
        for part in np.array_split(order, 2) if len(order) >= 2 * fewest else [order]:
            fit = fit_slope(slopes.apart_m[part], slopes.step_m[part])
            if len(part) >= fewest:
                found.append(_Pair(fit, float(np.median(slopes.time_s[part]))))
    return sorted(found, key=lambda each: each.time_s)
