"""What checkpoints show, as figures: read whether or not anybody asked for an accuracy."""

from __future__ import annotations

from collections.abc import Iterator

from ledger.contract.check import Figure
from ledger.model.phrases import count_things
from lidar_checks.ground.checkpoint_check import TOPIC, tell_interval
from lidar_checks.ground.error_statistics import (
    ErrorStatistics,
    combine,
    compute_mean_interval,
    compute_statistics,
)
from lidar_checks.ground.plan_errors import compute_plan_errors
from lidar_checks.ground.residuals import Residual
from lidar_checks.ground.sample import Sample, list_heights
from lidar_checks.ground.survey_error import find_height_error

_ROBUST_SHARE = 0.3
"""Mean and median this share of the spread apart are both told (common practice, no source)."""

_CALM_SHARE = 0.5
"""So are the two spreads where the robust one is less than this share of the other: few points then
make most of it (common practice, no source)."""


def list_figures(sample: Sample) -> Iterator[Figure]:
    """Yield the figures of heights, then those of places."""
    if sample.open_ground:
        yield from _list_open(sample.open_ground)
    if sample.vegetated:
        yield _tell_vegetated(sample.vegetated)
    if sample.picked:
        yield _tell_plan(sample.picked)
    if sample.not_counted:
        yield Figure(
            "checkpoints-not-counted",
            TOPIC,
            sample.tell_left_out().strip(),
            str(len(sample.not_counted)),
            "points",
            len(sample.checkpoints),
            listed=tuple(each.id for each in sample.not_counted),
        )


def _list_open(points: tuple[Residual, ...]) -> Iterator[Figure]:
    found = compute_statistics(list_heights(points))
    of = "not in vegetation"
    number = count_things(found.count, "independent checkpoint")
    yield Figure(
        "vertical-rmse",
        TOPIC,
        f"Vertical RMSE {found.rmse:.3f} m at {number}; {tell_interval(found.interval)}.",
        f"{found.rmse:.4f}",
        "m",
        found.count,
        *_show_limits(found.interval),
        of,
    )
    survey = find_height_error(points)
    if survey is not None:
        total = combine(found.rmse, survey)
        yield Figure(
            "vertical-rmse-with-survey",
            TOPIC,
            f"With the error of the survey, {survey:.3f} m: {total:.3f} m.",
            f"{total:.4f}",
            "m",
            found.count,
            of=of,
        )
    spread = "" if found.deviation is None else f", standard deviation {found.deviation:.3f} m"
    limits = compute_mean_interval(list_heights(points))
    told = [(each.id, f"{each.dz:.4f}") for each in points if each.dz is not None]
    yield Figure(
        "vertical-mean",
        TOPIC,
        f"Mean {found.mean:+.3f} m{spread}, largest {found.largest:.3f} m{_tell_robust(found)}.",
        f"{found.mean:.4f}",
        "m",
        found.count,
        *_show_limits(limits),
        of,
        listed=tuple(name for name, _ in told),
        values=tuple(value for _, value in told),
    )


def _tell_robust(found: ErrorStatistics) -> str:
    """Return median and robust deviation where they tell something else than mean and spread."""
    if found.deviation is None:
        return ""
    is_same = abs(found.mean - found.median) <= _ROBUST_SHARE * found.deviation
    if is_same and found.robust >= _CALM_SHARE * found.deviation:
        return ""
    return f"; median {found.median:+.3f} m, robust deviation {found.robust:.3f} m"


def _tell_vegetated(points: tuple[Residual, ...]) -> Figure:
    found = compute_statistics(list_heights(points))
    return Figure(
        "vegetated-percentile-95",
        TOPIC,
        f"In vegetation: 95th percentile of absolute errors {found.percentile_95:.3f} m, RMSE "
        f"{found.rmse:.3f} m at {count_things(found.count, 'checkpoint')}.",
        f"{found.percentile_95:.4f}",
        "m",
        found.count,
        of="in vegetation",
    )


def _tell_plan(points: tuple[Residual, ...]) -> Figure:
    found = compute_plan_errors(points)
    return Figure(
        "horizontal-rmse",
        TOPIC,
        f"Horizontal RMSE {found.radial:.3f} m at {count_things(found.count, 'target')} picked in "
        f"the cloud; {tell_interval(found.interval)}.",
        f"{found.radial:.4f}",
        "m",
        found.count,
        *_show_limits(found.interval),
        "targets picked in the cloud",
    )


def _show_limits(limits: tuple[float, float] | None) -> tuple[str, str]:
    return ("", "") if limits is None else (f"{limits[0]:.4f}", f"{limits[1]:.4f}")
