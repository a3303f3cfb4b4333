"""Answers that cannot be, or that somebody should look at once more, told at their own question.

Pure rules on the values of one record. What cannot be is refused; what is only unlikely is asked
once more and then taken as it was said.
"""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal

from ledger.errors import UsageError
from ledger.model.known import KnownValue

_VALUE, _STATISTIC = "statement.value", "statement.statistic"
# What is a root of squares, or a share of absolute errors, has no sign.
_UNSIGNED = ("RMSE", "1.96 RMSE", "standard deviation", "95th percentile")
_HEIGHTS = ("flight.base_height", "flight.base_height_again")
# A tripod or pole over a mark; lower or higher is mostly another unit, or a slipped decimal mark.
# Common practice, no source.
LOWEST_BASE_M, HIGHEST_BASE_M = Decimal("0.3"), Decimal(3)

Values = Mapping[str, KnownValue]


def require_sense(values: Values) -> None:
    """Refuse a record of which one value rules out another.

    Args:
        values: of one record, by field key.

    Raises:
        UsageError: a statistic that has no sign is negative.
    """
    number, statistic = values.get(_VALUE), values.get(_STATISTIC)
    if number is None or statistic is None or statistic.value not in _UNSIGNED:
        return
    if Decimal(str(number.value)) < 0:
        raise UsageError(
            f"{_VALUE} is negative, and {statistic.value} has no sign",
            found=f"{number.value} {number.unit}".strip(),
            expected="0 or more",
            remedy="say which statistic it is, or the number as the report states it",
        )


def find_doubt(key: str, known: KnownValue) -> str:
    """Return why an answer should be looked at once more, in one sentence; empty for no reason.

    Args:
        key: key of the field.
        known: the answer; heights in metres.
    """
    if key not in _HEIGHTS or known.unit != "m":
        return ""
    height = Decimal(str(known.value))
    if LOWEST_BASE_M <= height <= HIGHEST_BASE_M:
        return ""
    return (
        f"{height:f} m is an unusual height of a base antenna: most lie between {LOWEST_BASE_M} "
        f"and {HIGHEST_BASE_M} m (common practice, no source). Enter takes it as it is"
    )
