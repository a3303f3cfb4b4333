"""A number that a report states, in words."""

from __future__ import annotations

from collections.abc import Collection, Mapping

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


def is_stated_of(values: Mapping[str, KnownValue], folder: str, ids: Collection[str]) -> bool:
    """Say whether a statement is about a folder, what made it, or does not say.

    Args:
        values: of the statement, by field key.
        folder: the folder, as the book stores it.
        ids: ids of the runs and steps behind its files, and of its audits.
    """
    known = values.get("statement.about")
    if known is None:
        return True
    about = str(known.value).strip().rstrip("/")
    return about in ids or about in (folder, folder.rpartition("/")[2])


def _write(known: KnownValue | None, name: str) -> str:
    return f"{known.value} {known.unit}".strip() if known is not None else f"{name} {_NOT_RECORDED}"
