"""Captures that grew otherwise than the others; the limit of 15 % is common practice, no source."""

from __future__ import annotations

import pytest
from made_raw import make_flight, make_raw

from lidar_checks.lineage.capture_rate import find_odd_rates

_TIMES = {"capture_started": "2026-05-12T14:00:00Z", "capture_ended": "2026-05-12T14:01:40Z"}


def find(*megabytes: int, serials: str = "", **times: str) -> list[str]:
    """Return the flights that are odd; each of 100 s, with a scanner a letter of `serials`."""
    names = [f"F{number + 1}" for number in range(len(megabytes))]
    raw = {
        name: [make_raw(f"{name}.bin", flight=name, bytes=size * 1_000_000)]
        for name, size in zip(names, megabytes, strict=True)
    }
    cards = {
        name: make_flight(name, **{**_TIMES, **times}, scanner_serial=serial)
        for name, serial in zip(names, serials or "a" * len(names), strict=True)
    }
    return [each.flight for each in find_odd_rates(raw, cards)]


@pytest.mark.parametrize(
    ("megabytes", "odd"),
    [
        ((1000, 1000, 1149), []),
        ((1000, 1000, 1151), ["F3"]),
        ((500, 1000, 1000), ["F1"]),  # the others are not odd for it
        ((500, 1000), []),  # nobody can say which of two is
        ((0, 1000, 1000), []),  # an empty file is told by itself
    ],
)
def test_one_of_three_can_be_odd(megabytes: tuple[int, ...], odd: list[str]) -> None:
    """The one in the middle is what each is held against."""
    assert find(*megabytes) == odd


def test_another_scanner_is_no_measure() -> None:
    """Two scanners write differently."""
    assert find(500, 1000, 1000, serials="abb") == []


def test_without_times_nothing_is_said() -> None:
    """Begin and end of the capture are on record or nothing is known of its rate."""
    assert find(500, 1000, 1000, capture_ended="") == []
