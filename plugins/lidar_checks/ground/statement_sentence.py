"""The sentence about accuracy that may be stated, with its number, ground, day and limits.

FGDC-STD-007.3-1998, 3.2.3, words a test as a value at 95 % confidence; editions since 2023 of other
standards state the RMSE. What falls short of a test by a standard is told with the number.
"""

from __future__ import annotations

from collections.abc import Iterator

from ledger.dataclass import dataclass
from ledger.model.phrases import count_things
from lidar_checks.ground.checkpoint_check import tell_interval
from lidar_checks.ground.error_statistics import combine, compute_statistics
from lidar_checks.ground.plan_errors import compute_plan_errors
from lidar_checks.ground.published_rules import compute_vertical_95
from lidar_checks.ground.residuals import Residual
from lidar_checks.ground.sample import FEWEST, Sample, list_heights
from lidar_checks.ground.statement_grounds import is_full_test, list_reservations
from lidar_checks.ground.strata import find_stratum, tell_stratum
from lidar_checks.ground.survey_error import find_height_error

_DEFAULT = "ASPRS Edition 2"


@dataclass(frozen=True)
class Rules:
    """What a standard asks of a sentence.

    Args:
        count_min: fewest points of a full test.
        standard: document that the sentence names; empty for none.
        at_95: whether it states values at 95 % confidence.
    """

    count_min: int
    standard: str
    at_95: bool


def write_sentence(rules: Rules, sample: Sample) -> str:
    """Return the sentence that the checkpoints bear out; nothing may stand against one."""
    main = sample.open_ground or sample.vegetated
    is_full = len(main) >= rules.count_min and is_full_test(sample)
    kinds = sorted({find_stratum(each.stratum) for each in main})
    ground = " and ".join(tell_stratum(kind) for kind in kinds)
    told = (
        f"You may state: tested, {_tell_heights(rules, main, is_full=is_full)}, at "
        f"{count_things(len(main), 'independent checkpoint')} {ground}{_tell_days(main)}."
    )
    if sample.vegetated and sample.open_ground:
        grown = compute_statistics(list_heights(sample.vegetated))
        told += (
            f" In vegetation: 95th percentile {grown.percentile_95:.3f} m, RMSE {grown.rmse:.3f} "
            f"m, {count_things(grown.count, 'checkpoint')}."
        )
    if len(sample.picked) >= FEWEST:
        told += _tell_plan(rules, sample.picked, is_full=is_full)
    if is_full and rules.standard:
        told += f" Tested by {rules.standard}."
    limits = list(_list_limits(rules, sample, len(main)))
    return told + (f" Say with it: {'; '.join(limits)}." if limits else "")


def _tell_heights(rules: Rules, points: tuple[Residual, ...], *, is_full: bool) -> str:
    found = compute_statistics(list_heights(points))
    told = (
        f"vertical RMSE {found.rmse:.3f} m ({tell_interval(found.interval)}; mean "
        f"{found.mean:+.3f} m)"
    )
    survey = find_height_error(points)
    if survey is not None:
        told += f", {combine(found.rmse, survey):.3f} m with the error of the survey"
    if rules.at_95 and is_full:
        told += (
            f", {compute_vertical_95(found.rmse):.3f} m vertical accuracy at 95 % confidence "
            "level (1.9600 x RMSE)"
        )
    return told


def _tell_plan(rules: Rules, picked: tuple[Residual, ...], *, is_full: bool) -> str:
    """Return what targets that were picked in the cloud bear out, as a sentence."""
    found = compute_plan_errors(picked)
    number = count_things(found.count, "target")
    told = f" In plan: RMSE {found.radial:.3f} m ({tell_interval(found.interval)}) at {number}"
    if not rules.at_95 or not is_full or found.count < rules.count_min:
        return f"{told}."
    radius = found.at_95
    if radius is None:
        return (
            f"{told}; no radius at 95 %, for {found.rmse_x:.3f} m east and {found.rmse_y:.3f} m "
            "north are too unlike for one."
        )
    return (
        f"{told}, {radius:.3f} m horizontal accuracy at 95 % confidence level (2.4477 x the mean "
        "RMSE of the axes)."
    )


def _list_limits(rules: Rules, sample: Sample, count: int) -> Iterator[str]:
    """Yield what the sentence may not claim, as clauses."""
    if count < rules.count_min:
        standard = rules.standard or _DEFAULT
        yield f"with fewer than {rules.count_min} it is no full test by {standard}"
    yield from list_reservations(sample)


def _tell_days(points: tuple[Residual, ...]) -> str:
    days = sorted({each.surveyed[:10] for each in points if each.surveyed})
    if not days or not all(each.surveyed for each in points):
        return ""
    return f", surveyed {days[0]}" + (f" to {days[-1]}" if len(days) > 1 else "")
