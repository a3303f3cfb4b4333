"""The base on a flight's card: its height read twice, slant, offered again, or unusual."""

from __future__ import annotations

from pathlib import Path

import pytest
from filled_cards import fill_card, list_notes
from scripted import Scripted

from ledger.model.known import KnownBy, KnownValue


def test_two_readings_that_differ_are_told_at_once(job: Path) -> None:
    """While the antenna still stands; 3 mm is the limit (common practice, no source)."""
    far = fill_card(job, "flight", base_height="1.523", base_height_again="1,531")
    ((is_doubt, sentence),) = list_notes(far)
    assert is_doubt
    assert "1.523 m and 1.531 m, are 8 mm apart" in sentence
    assert "within 3 mm (common practice, no source)" in sentence
    assert "swathbook amend F1" in sentence
    assert (
        list_notes(fill_card(job, "flight", base_height="1.523", base_height_again="1.526")) == []
    )


def test_a_slant_height_is_reduced_where_radius_and_offset_are_given(job: Path) -> None:
    """5-12-13: a slant of 1.300 m with a radius of 0.500 m is 1.200 m, less 0.050 m."""
    slant = {"base_height": "1.300", "base_height_kind": "slant"}
    antenna = {"base_antenna_radius": "0.5", "base_antenna_offset": "-0.05"}
    told = list_notes(fill_card(job, "flight", **slant, **antenna))
    assert told == [
        (
            False,
            "Base antenna: 1.3 m slant is 1.1500 m vertical, mark to antenna reference point.",
        )
    ]
    blank = fill_card(job, "flight", **slant)
    assert list_notes(blank) == [
        (
            True,
            (
                "The height of the base antenna was read slant and cannot be made vertical without "
                "radius and offset of the antenna, from its data sheet: swathbook record flight F2 "
                "--set base_antenna_radius=… --set base_antenna_offset=…."
            ),
        )
    ]
    half = fill_card(job, "flight", **slant, base_antenna_radius="0.5")
    ((_, told_half),) = list_notes(half)
    assert "without offset of the antenna" in told_half
    assert "base_antenna_radius=" not in told_half
    costs = {each.field: each.why for each in blank.blanks}
    assert (
        costs["flight.base_antenna_radius"] == "a slant height cannot be reduced to a vertical one"
    )
    ((is_doubt, sentence),) = list_notes(
        fill_card(job, "flight", **slant, base_antenna_radius="1.3", base_antenna_offset="0")
    )
    assert is_doubt
    assert "not longer than its radius" in sentence


def test_a_service_asks_for_its_frame_and_for_no_antenna(job: Path) -> None:
    """What a network corrected has no base of one's own; where nobody said, both stay open."""
    network = {blank.field for blank in fill_card(job, "flight", base_kind="network").blanks}
    assert "flight.service_frame" in network
    assert not {"flight.base_height", "flight.base_mark"} & network
    own = {blank.field for blank in fill_card(job, "flight", base_kind="own base").blanks}
    assert "flight.service_frame" not in own
    assert {"flight.base_height", "flight.base_mark"} <= own
    unsaid = {blank.field for blank in fill_card(job, "flight", platform="drone").blanks}
    assert {"flight.base_kind", "flight.base_height"} <= unsaid


@pytest.mark.parametrize(
    ("takeoff", "mark", "offered"),
    [
        ("2026-05-14T20:59Z", "QM1", "1.5 m"),
        ("2026-05-14T21:01Z", "QM1", ""),
        ("2026-05-14T13:00Z", "QM2", ""),
        ("", "QM1", ""),
    ],
)
def test_the_height_of_the_base_is_offered_within_one_outing(
    job: Path, takeoff: str, mark: str, offered: str
) -> None:
    """Within twelve hours and on the same mark it stands in its own question.

    The second reading never does. Common practice, no source.
    """
    fill_card(
        job, "flight", base_mark="QM1", base_height="1.5", base_height_again="1.501",
        takeoff="2026-05-14T09:00Z",
    )  # fmt: skip
    ask = Scripted({"flight.takeoff": takeoff})
    result = fill_card(job, "flight", ask=ask, base_mark=mark)
    asked = {question.key: question for question in ask.asked}
    assert asked["flight.base_height"].default == offered
    assert ("nobody touched the base" in asked["flight.base_height"].hint) == bool(offered)
    assert "flight.base_height_again" not in result.values
    if offered:
        known = result.values["flight.base_height"]
        assert (known.value, known.known_by) == ("1.5", KnownBy.CARRIED)
        assert asked["flight.base_height_again"].default == ""


@pytest.mark.parametrize(
    ("typed", "times"),
    [("0.3", 1), ("3", 1), ("0.299", 2), ("3.001", 2), ("152.3 cm", 1), ("1523", 2)],
)
def test_an_unusual_height_of_the_base_is_asked_once_more(
    job: Path, typed: str, times: int
) -> None:
    """Over 3 m or under 0.3 m is mostly a slip; said again, it is taken.

    Common practice, no source.
    """
    ask = Scripted({"flight.base_height": typed})
    result = fill_card(job, "flight", ask=ask)
    asked = ask.find("flight.base_height")
    assert len(asked) == times
    assert "flight.base_height" in result.values
    assert all("most lie between 0.3 and 3 m" in each.help for each in asked[1:])
    doubts = [text for is_doubt, text in list_notes(result) if is_doubt]
    assert any("unusual height" in text for text in doubts) == (times == 2)


def test_an_unusual_height_may_be_put_right_when_it_is_asked_once_more(job: Path) -> None:
    """The slip of the decimal mark stands there to be put right."""
    ask = Scripted({"flight.base_height": ["15.23", "1.523"]})
    result = fill_card(job, "flight", ask=ask)
    assert result.values["flight.base_height"] == KnownValue("1.523", "m")
    first, second = ask.find("flight.base_height")
    assert (first.default, second.default) == ("", "15.23")


def test_an_unusual_height_is_said_without_a_terminal_too(job: Path) -> None:
    """A form that was filled in by hand is taken, and the doubt stands beside it."""
    ((is_doubt, told),) = list_notes(fill_card(job, "flight", base_height="152.3"))
    assert is_doubt
    assert told.startswith("152.3 m is an unusual height of a base antenna")
    assert "swathbook amend F1" in told
