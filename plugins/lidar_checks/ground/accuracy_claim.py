"""One number about accuracy as a report states it, computed again from the checkpoints."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal, InvalidOperation

from ledger.dataclass import dataclass
from ledger.model.known import KnownValue
from ledger.model.process import Card
from lidar_checks.ground.error_statistics import ErrorStatistics, compute_rmse, compute_statistics
from lidar_checks.ground.plan_errors import compute_plan_errors
from lidar_checks.ground.published_rules import compute_vertical_95
from lidar_checks.ground.residuals import Residual
from lidar_checks.ground.sample import Sample, list_heights
from lidar_checks.ground.strata import UNSAID, find_stratum

_ACCURACY, _STATISTIC, _VALUE = "statement.accuracy", "statement.statistic", "statement.value"
_STRATA, _TABLE = "statement.strata", "statement.checkpoints"
CLAIM_FIELDS = (_ACCURACY, _STATISTIC, _VALUE, _STRATA, _TABLE)

_STRATUM = {"non-vegetated": "nonvegetated", "vegetated": "vegetated", "other": UNSAID}
_ALL = "all"


@dataclass(frozen=True)
class Claim:
    """What a report states.

    Args:
        id: id of the statement.
        accuracy: `vertical`, `horizontal` or `three-dimensional`.
        statistic: as the form has it (`RMSE`).
        value: the number, metres.
        rounding: half a unit of its last digit, metres.
        strata: which of the points; `all` where the report does not say.
        table: digest of the table that it names; empty for none.
    """

    id: str
    accuracy: str
    statistic: str
    value: float
    rounding: float
    strata: str = _ALL
    table: str = ""


def read_claim(card: Card) -> Claim | None:
    """Return what a statement claims; None where a part is missing or is no number."""
    if any(key not in card.values for key in (_ACCURACY, _STATISTIC, _VALUE)):
        return None
    try:
        number = Decimal(str(card.values[_VALUE].value))
    except InvalidOperation:
        return None
    exponent = number.as_tuple().exponent
    if not number.is_finite() or not isinstance(exponent, int):
        return None
    return Claim(
        id=card.id,
        accuracy=_read(card.values, _ACCURACY),
        statistic=_read(card.values, _STATISTIC),
        value=float(number),
        rounding=0.5 * 10.0**exponent,
        strata=_read(card.values, _STRATA) or _ALL,
        table=_read(card.values, _TABLE),
    )


def _read(values: Mapping[str, KnownValue], key: str) -> str:
    known = values.get(key)
    return "" if known is None else str(known.value)


def choose_points(claim: Claim, sample: Sample) -> list[Residual]:
    """Return the independent checkpoints that a claim is about."""
    points: Sequence[Residual] = sample.judged if claim.accuracy == "vertical" else sample.picked
    paths = {table.path for table in sample.tables if table.sha256 == claim.table}
    return [
        each
        for each in points
        if (claim.strata == _ALL or find_stratum(each.stratum) == _STRATUM.get(claim.strata))
        and (not paths or each.table in paths)
    ]


def compute_again(claim: Claim, points: Sequence[Residual]) -> float | None:
    """Return the claimed statistic of some points, metres; None where there is none of that kind.

    Of horizontal errors and of errors in space only the RMSE is one number that everybody
    understands alike.
    """
    if not points:
        return None
    if claim.accuracy == "vertical":
        return pick_statistic(claim.statistic, compute_statistics(list_heights(points)))
    if claim.statistic != "RMSE":
        return None
    radial = compute_plan_errors(points).radial
    if claim.accuracy == "horizontal":
        return radial
    if any(each.dz is None for each in points):
        return None
    return float((radial**2 + compute_rmse(list_heights(points)) ** 2) ** 0.5)


def pick_statistic(name: str, found: ErrorStatistics) -> float | None:
    """Return a statistic by the name that the form of a statement has for it, metres."""
    return {
        "RMSE": found.rmse,
        "1.96 RMSE": compute_vertical_95(found.rmse),
        "mean": found.mean,
        "standard deviation": found.deviation,
        "median": found.median,
        "95th percentile": found.percentile_95,
        "largest": found.largest,
    }.get(name)
