"""A statement in words, where parts of it are not recorded."""

from __future__ import annotations

from ledger.model.known import KnownValue
from ledger.model.statement import describe_statement


def test_what_is_not_recorded_is_named_behind_what_is() -> None:
    """A reader sees the number first, and does not take a gap for a part of it."""
    value = {"statement.value": KnownValue("0.03", unit="m")}
    assert describe_statement(value) == (
        "0.03 m (not recorded: which accuracy, which statistic, number of points)"
    )
    whole = {
        "statement.accuracy": KnownValue("vertical"),
        "statement.statistic": KnownValue("RMSE"),
        **value,
        "statement.about": KnownValue("R2"),
        "statement.count": KnownValue(14),
    }
    assert describe_statement(whole) == "vertical RMSE 0.03 m of R2, from 14 points"
