"""The trajectory lies as high above the points as it was flown, and where it was flown.

A path in another height system floats by the geoid height above or below, one in another zone lies
kilometres away.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from pydantic import Field

from ledger.contract.check import Criteria, Evidence, Finding, Grade, Plan
from ledger.model.audit import WHOLE_DELIVERY
from lidar_checks.flight.beside_family import Beside, BesideCheck, add_bins, add_up, find_percentile
from lidar_checks.flight.beside_tally import FARTHEST_M, LOWEST_M, BesideSummary
from lidar_checks.flight.flight_check import PRACTICE, read_number
from lidar_checks.header.file_check import name_source, require_criteria

_HEIGHT = "flight.height_above_ground"
_MOST_FAR = 0.5


class PathHeightCriteria(Criteria):
    """By how much flown and planned height may differ."""

    max_change: float = Field(default=0.2, gt=0, lt=1, description=PRACTICE)


class PathHeight(BesideCheck):
    """Measures how far the points straight below lie under the path."""

    id = "path-height"
    title = "The trajectory lies as high above the points as it was flown"
    catalogue = ("SL-09", "RC-06")
    criteria = PathHeightCriteria
    fields = (_HEIGHT, "flight.height_type", "run.trajectory_height_type", "run.trajectory_crs")

    def judge(
        self,
        plan: Plan,
        beside: Beside,
        counted: Mapping[str, BesideSummary],
        evidence: Evidence,
    ) -> Iterable[Finding]:
        """Judge all files together."""
        on_line = add_up(counted.values(), "on_line")
        far = add_up(counted.values(), "far")
        if on_line and far > _MOST_FAR * on_line:
            yield self._tell_far(beside, far / on_line)
            return
        median = find_percentile(add_bins(counted.values(), "down"), 0.5, LOWEST_M)
        if median is None:
            yield self.inconclusive(
                WHOLE_DELIVERY, f"No point lies straight below a line of {beside.names}."
            )
            return
        planned = [number for card in evidence.flights if (number := read_number(card, _HEIGHT))]
        told = f"{beside.names} lies {median:.0f} m above the points straight below it"
        if not planned:
            yield self.not_assessed(
                WHOLE_DELIVERY, f"{told}; how high it was flown is not on the card.", (_HEIGHT,)
            )
            return
        height = sum(number for number, _ in planned) / len(planned)
        yield self._compare(plan, beside, median, height, told)

    def _tell_far(self, beside: Beside, share: float) -> Finding:
        return self.nonconforming(
            Grade.MINOR,
            WHOLE_DELIVERY,
            f"{share:.0%} of the points lie more than {FARTHEST_M} m from where {beside.names} "
            "has the scanner at their time: it is in another zone or system, or its axes are "
            "swapped.",
            observed=f"{share:.0%}",
            required=f"{_MOST_FAR:.0%}",
            criterion_source=PRACTICE,
            remedy="Export the trajectory in the system of the points",
            catalogue=("SL-09",),
        )

    def _compare(
        self, plan: Plan, beside: Beside, median: float, height: float, told: str
    ) -> Finding:
        limit = require_criteria(plan, PathHeightCriteria).max_change
        reach = limit * height
        parts: dict[str, Any] = {
            "observed": f"{median:.1f}",
            "required": f"{height:g}",
            "unit": "m",
            "criterion_source": name_source(plan, "max_change"),
        }
        sentence = f"{told}, planned were {height:g} m"
        if abs(median - height) <= reach:
            if beside.heights == "same" and beside.can_prove:
                return self.conforms(WHOLE_DELIVERY, f"{sentence}.", **parts)
            return self.inconclusive(
                WHOLE_DELIVERY,
                f"{sentence}, though nothing says that both have one kind of height.",
                **parts,
            )
        geoid = beside.geoid_m
        if geoid is not None and _is_geoid(median - height, geoid, reach):
            return self.nonconforming(
                Grade.MINOR,
                WHOLE_DELIVERY,
                f"{sentence}: the difference is the geoid height here, {geoid:.1f} m. One has "
                "ellipsoidal heights, the other orthometric ones.",
                remedy="Export the trajectory with the heights of the points",
                **parts,
            )
        if beside.heights != "same" and geoid is None:
            return self.inconclusive(
                WHOLE_DELIVERY,
                f"{sentence}; how far ellipsoidal and orthometric heights lie apart here is not "
                "known, which may be why.",
                **parts,
            )
        return self.nonconforming(
            Grade.MINOR if median > height else Grade.OBSERVATION,
            WHOLE_DELIVERY,
            f"{sentence} (limit {limit:.0%}).",
            remedy="Put the height on the card right, or look at the density: it falls with height",
            catalogue=("RC-06", "SL-09"),
            **parts,
        )


def _is_geoid(apart: float, geoid: float, reach: float) -> bool:
    """Say whether a difference of heights is the geoid height, up or down, and not the flying."""
    near = min(reach, abs(geoid) / 4)
    return abs(geoid) > 2 * reach and abs(abs(apart) - abs(geoid)) <= near
