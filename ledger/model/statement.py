"""A number that a report states, in words."""

from __future__ import annotations

from collections.abc import Mapping

from ledger.model.known import KnownValue
from ledger.model.phrases import count_things

_NOT_RECORDED = "not recorded"


def describe_statement(values: Mapping[str, KnownValue]) -> str:
    """Return a statement in one clause: `vertical RMSE 0.023 m of R2, from 14 points`.

    Args:
        values: by field key; what is not among them is said to be not recorded.
    """
    kind = _write(values.get("statement.accuracy"), "accuracy")
    statistic = _write(values.get("statement.statistic"), "statistic")
    value = _write(values.get("statement.value"), "value")
    about = values.get("statement.about")
    count = values.get("statement.count")
    of = f" of {about.value}" if about is not None else ""
    number = (
        count_things(int(count.value), "point")
        if count is not None
        else f"number of points {_NOT_RECORDED}"
    )
    return f"{kind} {statistic} {value}{of}, from {number}"


def _write(known: KnownValue | None, name: str) -> str:
    return f"{known.value} {known.unit}".strip() if known is not None else f"{name} {_NOT_RECORDED}"
