"""A number that a report states, in words."""

from __future__ import annotations

from collections.abc import Collection, Mapping

from ledger.model.known import KnownValue
from ledger.model.phrases import count_things

_NOT_RECORDED = "not recorded"
# In the order in which they are said, each with its name where it is absent.
_PARTS = {"accuracy": "which accuracy", "statistic": "which statistic", "value": "the value"}


def describe_statement(values: Mapping[str, KnownValue]) -> str:
    """Return a statement in one clause: `vertical RMSE 0.023 m of R2, from 14 points`.

    Args:
        values: by field key; what is not among them is named behind the clause.
    """
    told = {name: values.get(f"statement.{name}") for name in _PARTS}
    about, count = values.get("statement.about"), values.get("statement.count")
    said = " ".join(_write(known) for known in told.values() if known is not None)
    of = f" of {about.value}" if about is not None else ""
    points = f", from {count_things(int(count.value), 'point')}" if count is not None else ""
    absent = [_PARTS[name] for name, known in told.items() if known is None]
    absent += ["number of points"] if count is None else []
    left = f" ({_NOT_RECORDED}: {', '.join(absent)})" if absent else ""
    return f"{said or 'a statement'}{of}{points}{left}"


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


def _write(known: KnownValue) -> str:
    return f"{known.value} {known.unit}".strip()
