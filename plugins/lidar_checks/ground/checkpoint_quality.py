"""Checkpoints that were surveyed well enough, and not too long before or after the flight."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator, Mapping
from typing import Any, cast

import numpy as np
from pydantic import Field

from ledger.contract.check import Criteria, Finding, Grade, Plan
from ledger.model.audit import WHOLE_DELIVERY
from ledger.model.phrases import count_things
from lidar_checks.cloud.criterion_source import name_sources
from lidar_checks.ground.checkpoint_check import PRACTICE, CheckpointCheck, exceeds, is_default
from lidar_checks.ground.clustering import find_neighbours, measure_clustering
from lidar_checks.ground.error_statistics import combine, compute_rmse
from lidar_checks.ground.sample import Sample, list_heights, name_points
from lidar_checks.ground.survey_error import find_height_error

_TAKEOFF = "flight.takeoff"
_SURVEYED = f"{WHOLE_DELIVERY}, days of survey"
NEIGHBOURHOOD = f"{WHOLE_DELIVERY}, neighbouring points"
"""Subject of what is found about points that are off as their neighbours are."""

_ACCURACY = "vertical-accuracy"

FEWEST_FOR_CLUSTERS = 10
"""With fewer points, four of them are most of all others (common practice, no source)."""

_CHANCE_IN_A_HUNDRED = 2.326
"""Upper quantile of 1 % of the normal distribution (scipy.stats.norm.ppf(0.99))."""


class CheckpointQualityCriteria(Criteria):
    """How good checkpoints have to be."""

    times_better_min: float = Field(
        default=2.0,
        gt=0,
        description="ASPRS Positional Accuracy Standards, Edition 2, 7.12: the accuracy asked for "
        "over that of the checkpoints",
    )
    rmse_max_m: float | None = Field(
        default=None,
        gt=0,
        description="the accuracy asked for; where blank, that of vertical-accuracy in job.toml",
    )
    days_apart_max_days: float = Field(
        default=14.0,
        gt=0,
        description=f"between survey and flight, on ground that changes; {PRACTICE}",
    )
    alike_max: float = Field(
        default=0.3,
        gt=0,
        le=1,
        description="Moran's I of the errors with the four nearest points, where chance in a "
        f"hundred does not give as much; {PRACTICE}",
    )


class CheckpointQuality(CheckpointCheck):
    """Quality and age of checkpoints."""

    id = "checkpoint-quality"
    revision = 2
    title = "Checkpoints are surveyed well enough for what they test, and near the flight in time"
    catalogue = ("CP-08", "CP-09")
    criteria = CheckpointQualityCriteria
    fields = (_TAKEOFF,)
    specification_keys = (*CheckpointCheck.specification_keys,)

    def judge(self, plan: Plan, sample: Sample) -> Iterable[Finding]:
        """Judge the stated error of the survey, its days, and whether neighbours are off alike."""
        yield self._judge_error(plan, sample)
        yield from self._judge_age(plan, sample)
        yield from self._judge_neighbours(plan, sample)

    def _judge_neighbours(self, plan: Plan, sample: Sample) -> Iterator[Finding]:
        """Yield that errors lie in clusters; nothing of few points, or where they do not."""
        points = sample.open_ground
        if len(points) < FEWEST_FOR_CLUSTERS:
            return
        places = np.array([(each.east_m, each.north_m) for each in points])
        heights = np.array(list_heights(points))
        found = measure_clustering(heights, find_neighbours(places))
        limit = cast("CheckpointQualityCriteria", plan.criteria).alike_max
        if found is None or found.value <= limit or found.score <= _CHANCE_IN_A_HUNDRED:
            return
        high = [p for p, dz in zip(points, heights, strict=True) if dz > heights.mean()]
        yield self.nonconforming(
            Grade.OBSERVATION,
            NEIGHBOURHOOD,
            f"Neighbouring checkpoints are off alike (Moran's I {found.value:.2f}, by chance "
            f"{found.expected:+.2f} with a deviation of {found.deviation:.2f}): above the mean at "
            f"{name_points(high)}. Ground that changed between survey and flight, a tilt, or a "
            "cloud that drifted does so, and the points say less together than so many would.",
            observed=f"{found.value:.2f}",
            required=f"at most {limit:g}",
            criterion_source=name_sources(plan, "alike_max"),
            remedy="Look at where the points above and below the mean lie: what was dug, filled, "
            "mown or snowed on, and which flight lines cross there.",
            catalogue=("CP-09",),
        )

    def _judge_error(self, plan: Plan, sample: Sample) -> Finding:
        asked = cast("CheckpointQualityCriteria", plan.criteria)
        limit = asked.rmse_max_m or _read_limit(sample.evidence.specification.criteria)
        points = [each for each in sample.independent if each.sigma_vertical_m is not None]
        sigma = find_height_error(sample.independent)
        if sigma is None:
            silent = len(sample.independent) - len(points)
            return self.not_assessed(
                WHOLE_DELIVERY,
                f"The table says of {count_things(silent, 'checkpoint')} nothing about how well "
                "its height was surveyed.",
                ("standard deviations of the heights",),
                remedy="Add them to the table as a column, and audit again",
                catalogue=("CP-08",),
            )
        if limit is None:
            return self.not_assessed(
                WHOLE_DELIVERY,
                f"Checkpoints are surveyed to {sigma:.3f} m, and no accuracy is asked for that "
                "this could be held against.",
                ("criteria.vertical-accuracy.rmse_max_m",),
                catalogue=("CP-08",),
            )
        most = limit / asked.times_better_min
        parts: dict[str, Any] = {
            "observed": f"{sigma:.4f}",
            "required": f"at most {most:.4g}",
            "unit": "m",
            "criterion_source": name_sources(plan, "times_better_min", "rmse_max_m"),
            "catalogue": ("CP-08",),
        }
        told = f"Heights of the checkpoints are surveyed to {sigma:.3f} m (standard deviation)"
        if exceeds(sigma, most):
            heights = list_heights(sample.judged)
            both = ""
            if heights:
                total = combine(compute_rmse(heights), sigma)
                both = f" Together with the RMSE of the cloud that makes {total:.3f} m."
            return self.nonconforming(
                Grade.OBSERVATION if is_default(plan, "times_better_min") else Grade.MINOR,
                WHOLE_DELIVERY,
                f"{told}, which is not {asked.times_better_min:g} times better than the {limit:g} "
                f"m that they test.{both}",
                remedy="Survey the points better (longer, twice, or levelled), or state the "
                "accuracy with the error of the survey in it.",
                **parts,
            )
        return self.conforms(
            WHOLE_DELIVERY, f"{told}, which is good enough for {limit:g} m.", **parts
        )

    def _judge_age(self, plan: Plan, sample: Sample) -> Iterator[Finding]:
        asked = cast("CheckpointQualityCriteria", plan.criteria)
        flown = [
            day
            for card in sample.evidence.flights
            if _TAKEOFF in card.values and (day := read_day(str(card.values[_TAKEOFF].value)))
        ]
        dated = [(each, day) for each in sample.independent if (day := read_day(each.surveyed))]
        if not flown or not dated:
            missing = (
                "no flight says when it was flown"
                if not flown
                else ("no table says when its points were surveyed")
            )
            yield self.not_assessed(
                _SURVEYED,
                f"How many days lie between survey and flight is not known: {missing}.",
                (_TAKEOFF,) if not flown else ("days of the survey",),
                catalogue=("CP-09",),
            )
            return
        apart = {each.id: min(abs((day - flight).days) for flight in flown) for each, day in dated}
        worst = max(apart.values())
        parts: dict[str, Any] = {
            "observed": str(worst),
            "required": f"at most {asked.days_apart_max_days:g}",
            "unit": "days",
            "criterion_source": name_sources(plan, "days_apart_max_days"),
            "catalogue": ("CP-09",),
        }
        old = [each for each, _ in dated if apart[each.id] > asked.days_apart_max_days]
        if old:
            yield self.nonconforming(
                Grade.OBSERVATION if is_default(plan, "days_apart_max_days") else Grade.MINOR,
                _SURVEYED,
                f"{count_things(len(old), 'checkpoint')} and the flight lie up to "
                f"{count_things(worst, 'day')} apart: {name_points(old)}. Ground that is worked on "
                "or grown over has changed since.",
                remedy="Say whether the ground there is paved or unchanged, or survey these points "
                "again.",
                **parts,
            )
            return
        yield self.conforms(
            _SURVEYED,
            f"{count_things(len(dated), 'checkpoint')} and the flight lie at most "
            f"{count_things(worst, 'day')} apart.",
            **parts,
        )


def read_day(text: str) -> dt.date | None:
    """Return the day of an ISO 8601 date or time; None for what is none."""
    try:
        return dt.date.fromisoformat(text.strip()[:10])
    except ValueError:
        return None


def _read_limit(criteria: Mapping[str, Any]) -> float | None:
    """Return the accuracy that job.toml asks for beside another check; None where it is blank."""
    section = criteria.get(_ACCURACY)
    value = section.get("rmse_max_m") if isinstance(section, Mapping) else None
    return float(value) if isinstance(value, int | float) else None
