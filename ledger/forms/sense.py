"""Answers that cannot be, or that somebody should look at once more, told at their own question.

Pure rules on the values of one record. What cannot be is refused; what is only unlikely is asked
once more and then taken as it was said.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from decimal import Decimal

from ledger.errors import UsageError
from ledger.model.field import FieldType
from ledger.model.fields import FIELDS
from ledger.model.known import KnownValue

_VALUE, _STATISTIC = "statement.value", "statement.statistic"
# What is a root of squares, or a share of absolute errors, has no sign.
_UNSIGNED = ("RMSE", "1.96 RMSE", "standard deviation", "95th percentile")
_HEIGHTS = ("flight.base_height", "flight.base_height_again")
# A tripod or pole over a mark; lower or higher is mostly another unit, or a slipped decimal mark.
# Common practice, no source.
LOWEST_BASE_M, HIGHEST_BASE_M = Decimal("0.3"), Decimal(3)
# From an antenna on the aircraft to a scanner below it; longer is mostly another unit, or a slipped
# decimal mark. Common practice, no source.
LONGEST_ARM_M = Decimal(3)
_ARMS = ("rig.lever_arm_aircraft", "rig.lever_arm_scanner", "run.lever_arm")
_AS_IT_IS = "Enter takes it as it is"
# What begins, and what ends it.
_SPANS = (
    ("flight.takeoff", "flight.landing"),
    ("flight.capture_started", "flight.capture_ended"),
    ("run.started", "run.ended"),
)
# A clock may be set to another zone than the one that it shows.
_CLOCK_APART = dt.timedelta(days=1)

Values = Mapping[str, KnownValue]


def require_sense(values: Values) -> None:
    """Refuse a record of which one value rules out another.

    Args:
        values: of one record, by field key.

    Raises:
        UsageError: a value is negative without a statistic that has a sign, or an end lies before
            its beginning.
    """
    _require_sign(values)
    for begin, end in _SPANS:
        _require_order(begin, end, values)


def _require_sign(values: Values) -> None:
    number, statistic = values.get(_VALUE), values.get(_STATISTIC)
    if number is None or (statistic is not None and statistic.value not in _UNSIGNED):
        return
    if Decimal(str(number.value)) < 0:
        why = f"{statistic.value} has no sign" if statistic else "no statistic with a sign is named"
        raise UsageError(
            f"{_VALUE} is negative, and {why}",
            found=f"{number.value} {number.unit}".strip(),
            expected="0 or more",
            remedy="say which statistic it is, or the number as the report states it",
        )


def _require_order(begin: str, end: str, values: Values) -> None:
    first, second = (_read_moment(values.get(key)) for key in (begin, end))
    if first is not None and second is not None and second < first:
        raise UsageError(
            f"{end} is before {begin}",
            found=str(values[end].value),
            expected=f"at or after {values[begin].value}",
            remedy="put right whichever is wrong; say both where both are",
        )


def _read_moment(known: KnownValue | None) -> dt.datetime | None:
    try:
        moment = None if known is None else dt.datetime.fromisoformat(str(known.value))
    except ValueError:
        return None
    return None if moment is None or moment.tzinfo is None else moment


def find_doubt(key: str, known: KnownValue) -> str:
    """Return why an answer should be looked at once more, in one sentence; empty for no reason.

    Args:
        key: key of the field.
        known: the answer; heights and lever arms in metres, days and times as ISO 8601.
    """
    if key in _HEIGHTS and known.unit == "m":
        return _doubt_height(Decimal(str(known.value)))
    if key in _ARMS and known.unit == "m":
        return _doubt_arm(known)
    if key in FIELDS and FIELDS[key].type in (FieldType.DATE, FieldType.TIME):
        return _doubt_day(known)
    return ""


def _doubt_height(height: Decimal) -> str:
    if LOWEST_BASE_M <= height <= HIGHEST_BASE_M:
        return ""
    return (
        f"{height:f} m is an unusual height of a base antenna: most lie between {LOWEST_BASE_M} "
        f"and {HIGHEST_BASE_M} m (common practice, no source). {_AS_IT_IS}"
    )


def _doubt_arm(known: KnownValue) -> str:
    parts = known.value if isinstance(known.value, list | tuple) else ()
    longest = max((abs(Decimal(str(part))) for part in parts), default=Decimal(0))
    if longest <= LONGEST_ARM_M:
        return ""
    return (
        f"{longest:f} m is unusual in a lever arm: most are shorter than {LONGEST_ARM_M} m (common "
        f"practice, no source). {_AS_IT_IS}"
    )


def _doubt_day(known: KnownValue) -> str:
    """Say that a day has not come yet: by the clock of this computer, which may be wrong too."""
    now = dt.datetime.now(dt.UTC)
    if str(known.value)[:10] <= (now + _CLOCK_APART).date().isoformat():
        return ""
    return (
        f"{known.value} has not come yet: by the clock of this computer it is "
        f"{now.date().isoformat()}. {_AS_IT_IS}"
    )
