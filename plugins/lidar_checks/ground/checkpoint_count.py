"""Enough independent checkpoints, spread over the site.

Every figure of accuracy is about the checkpoints and no farther: a corner of the site without one
is not tested. A small site may do with few; the report then has to say so.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import cast

from pydantic import Field

from ledger.contract.check import Criteria, Finding, Grade, Plan
from ledger.model.audit import WHOLE_DELIVERY
from ledger.model.phrases import agree, count_things
from lidar_checks.cloud.criterion_source import name_sources
from lidar_checks.ground.checkpoint_check import PRACTICE, CheckpointCheck, is_default
from lidar_checks.ground.error_statistics import compute_interval_factors
from lidar_checks.ground.published_rules import COUNT_MIN_2, find_least_count
from lidar_checks.ground.residuals import Residual
from lidar_checks.ground.sample import Sample
from lidar_checks.ground.site_shape import (
    QUADRANTS,
    Places,
    Site,
    compute_hull_area,
    find_nearest_pair,
    find_site,
    list_places,
)

SPREAD = f"{WHOLE_DELIVERY}, spread"
"""Subject of what is found about where the points lie."""

_KM2 = 1e6


class CheckpointCountCriteria(Criteria):
    """How many checkpoints there have to be, and how spread."""

    count_min: int = Field(
        default=COUNT_MIN_2,
        ge=1,
        description="ASPRS Positional Accuracy Standards, Edition 2, 7.13; fewer only with a "
        "statement in the report",
    )
    vegetated_count_min: int | None = Field(
        default=None, ge=1, description="points in vegetation; no default"
    )
    hull_share_min: float = Field(
        default=0.6,
        gt=0,
        le=1,
        description=f"area of the hull of the checkpoints over that of the site; {PRACTICE}",
    )
    quadrant_count_min: int = Field(
        default=1, ge=0, description=f"points in each quarter of the site; {PRACTICE}"
    )
    quadrant_share_min: float | None = Field(
        default=None, gt=0, le=0.25, description="share of the points in each quarter; no default"
    )
    spacing_share_min: float | None = Field(
        default=None,
        gt=0,
        le=1,
        description="distance between any two points over the diagonal of the site; no default",
    )


class CheckpointCount(CheckpointCheck):
    """Number and spread of checkpoints."""

    id = "checkpoint-count"
    title = "There are enough independent checkpoints, and they are spread over the site"
    catalogue = ("CP-02",)
    criteria = CheckpointCountCriteria
    specification_keys = (*CheckpointCheck.specification_keys, "delivery.boundary")

    def judge(self, plan: Plan, sample: Sample) -> Iterable[Finding]:
        """Count, then look at where they lie."""
        asked = cast("CheckpointCountCriteria", plan.criteria)
        site = find_site(sample.evidence)
        open_ground, vegetated = sample.open_ground, sample.vegetated
        # The open ground is what is tested; where there is vegetation alone, that is.
        main = open_ground or vegetated
        more = sample.tell_left_out() + _tell_large(site)
        yield self._judge_count(plan, main, "count_min", asked.count_min, more)
        if asked.vegetated_count_min is not None:
            least = asked.vegetated_count_min
            yield self._judge_count(plan, vegetated, "vegetated_count_min", least, more)
        if not main:
            return
        if site is None or site.area_m2 <= 0:
            yield self.inconclusive(
                SPREAD,
                "Neither a boundary nor a header says where the site lies, so nobody can tell how "
                "the checkpoints are spread over it.",
            )
            return
        places = list_places([(each.east_m, each.north_m) for each in main])
        against = tuple(self._judge_spread(plan, places, main, site))
        yield from against or (self._tell_spread(places, site),)

    def _judge_count(
        self,
        plan: Plan,
        points: tuple[Residual, ...],
        field: str,
        least: int,
        more: str,
    ) -> Finding:
        number = len(points)
        where = ", in vegetation" if field != "count_min" else ""
        told = f"{count_things(number, 'independent checkpoint')}{where}"
        parts = {
            "observed": str(number),
            "required": f"at least {least}",
            "unit": "points",
            "criterion_source": name_sources(plan, field),
        }
        subject = f"{WHOLE_DELIVERY}{where}"
        if number >= least:
            return self.conforms(
                subject, f"{told} {agree(number, 'tests', 'test')} this.{more}", **parts
            )
        sure = ""
        if number:
            low, high = compute_interval_factors(number)
            sure = f": the true RMSE may be {low:.2f} to {high:.2f} times the one computed"
        return self.nonconforming(
            Grade.OBSERVATION if is_default(plan, field) else Grade.MINOR,
            subject,
            f"{told} {agree(number, 'tests', 'test')} this, fewer than {least}{sure}.{more}",
            remedy="Survey more points that nothing is fitted to, or say in the report how few "
            "there are.",
            **parts,
        )

    def _judge_spread(
        self, plan: Plan, places: Places, points: tuple[Residual, ...], site: Site
    ) -> Iterator[Finding]:
        asked = cast("CheckpointCountCriteria", plan.criteria)
        share = compute_hull_area(places) / site.area_m2
        if share < asked.hull_share_min:
            yield self._tell_narrow(
                plan,
                "hull_share_min",
                f"The checkpoints enclose {share:.0%} of the site (area of {site.basis}): what "
                "lies outside is not tested.",
                (f"{share:.2f}", f"at least {asked.hull_share_min:g}", "share of the site"),
            )
        counts = site.count_quadrants(places)
        empty = [
            f"{name}: {number}"
            for name, number in zip(QUADRANTS, counts, strict=True)
            if number < asked.quadrant_count_min
        ]
        if empty:
            yield self._tell_narrow(
                plan,
                "quadrant_count_min",
                f"Quarters of the site with too few checkpoints: {', '.join(empty)}.",
                (str(min(counts)), f"at least {asked.quadrant_count_min}", "points"),
            )
        least = asked.quadrant_share_min
        if least is not None and min(counts) < least * len(places):
            poor = QUADRANTS[counts.index(min(counts))]
            yield self._tell_narrow(
                plan,
                "quadrant_share_min",
                f"The {poor} quarter of the site holds {min(counts)} of "
                f"{count_things(len(places), 'checkpoint')}.",
                (f"{min(counts) / len(places):.2f}", f"at least {least:g}", "share of the points"),
            )
        yield from self._judge_spacing(plan, places, points, site)

    def _judge_spacing(
        self, plan: Plan, places: Places, points: tuple[Residual, ...], site: Site
    ) -> Iterator[Finding]:
        asked = cast("CheckpointCountCriteria", plan.criteria)
        if asked.spacing_share_min is None or len(places) < 2:
            return
        least = asked.spacing_share_min * site.diagonal_m
        one, other, apart = find_nearest_pair(places)
        if apart < least:
            yield self._tell_narrow(
                plan,
                "spacing_share_min",
                f"{points[one].id} and {points[other].id} lie {apart:.1f} m apart, and "
                f"{least:.1f} m is asked for ({asked.spacing_share_min:.0%} of the diagonal).",
                (f"{apart:.1f}", f"at least {least:.1f}", "m"),
            )

    def _tell_narrow(
        self, plan: Plan, field: str, sentence: str, numbers: tuple[str, str, str]
    ) -> Finding:
        observed, required, unit = numbers
        return self.nonconforming(
            Grade.OBSERVATION if is_default(plan, field) else Grade.MINOR,
            SPREAD,
            sentence,
            observed=observed,
            required=required,
            unit=unit,
            criterion_source=name_sources(plan, field),
            remedy="Survey points where there are none, or say in the report which part of the "
            "site was not tested.",
        )

    def _tell_spread(self, places: Places, site: Site) -> Finding:
        share = min(1.0, compute_hull_area(places) / site.area_m2)
        counts = ", ".join(str(number) for number in site.count_quadrants(places))
        return self.conforms(
            SPREAD,
            f"The checkpoints enclose {share:.0%} of the site (area of {site.basis}); its quarters "
            f"hold {counts} of them (south-west, south-east, north-west, north-east).",
        )


def _tell_large(site: Site | None) -> str:
    """Return that more points are asked for over a large area; empty over any that a drone flies.

    How many is not known here: the table beyond its first row was not read.
    """
    if site is None or find_least_count(2, site.area_m2 / _KM2).is_read:
        return ""
    return " Over so large an area the standard asks for more: see its table."
