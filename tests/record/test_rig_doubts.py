"""What does not fit on a rig's card: a new bracket with the old arm, a foreign calibration."""

from __future__ import annotations

from pathlib import Path

import pytest
from filled_cards import fill_card, list_notes

ARM = {
    "lever_arm_aircraft": "0.112 0.004 0.231",
    "lever_arm_convention": "forward-right-down",
    "lever_arm_measured": "2026-04-02",
}


@pytest.mark.parametrize(
    ("again", "is_told"),
    [
        ({"bracket": "B-2"}, True),
        ({"bracket": "B-2", "lever_arm_aircraft": "0.112 0.004 0.2310"}, True),
        ({"bracket": "B-2", "lever_arm_aircraft": "0.112 0.004 0.301"}, False),
        ({"bracket": "B-2", "lever_arm_measured": "2026-05-02"}, False),
        ({"bracket": "B-1"}, False),
        ({"base_serial": "BR-2"}, False),
    ],
)
@pytest.mark.parametrize("is_new", [False, True])
def test_a_new_bracket_with_the_old_arm_is_told_at_once(
    job: Path, again: dict[str, str], is_told: bool, is_new: bool
) -> None:
    """Whether the rig is recorded again, or the same units under a new id."""
    fill_card(job, "rig", scanner_serial="SU-07", aircraft_serial="AC-3", bracket="B-1", **ARM)
    if is_new:
        given = {"scanner_serial": "SU-07", "aircraft_serial": "AC-3", **ARM, **again}
        told = list_notes(fill_card(job, "rig", **given))
    else:
        told = list_notes(fill_card(job, "rig", name="G1", **again))
    if is_new and "bracket" not in again:
        return
    assert [is_doubt for is_doubt, _ in told] == [True] * is_told
    for _, sentence in told:
        assert "The bracket was B-1 and is B-2" in sentence
        assert f"record rig {'G2' if is_new else 'G1'} --set lever_arm_measured=DATE" in sentence


def test_another_scanner_is_no_changed_bracket(job: Path) -> None:
    """A second rig has a bracket of its own, and its arm may well be the same."""
    fill_card(job, "rig", scanner_serial="SU-07", bracket="B-1", **ARM)
    assert list_notes(fill_card(job, "rig", scanner_serial="SU-08", bracket="B-2", **ARM)) == []


def test_a_calibration_of_another_scanner_is_told_at_once(job: Path) -> None:
    """The serial that the calibration states is not that of the rig."""
    given = {"scanner_serial": "SU-07", "calibration_date": "2026-01-15"}
    assert list_notes(fill_card(job, "rig", **given, calibration_serial="SU-07")) == []
    told = list_notes(fill_card(job, "rig", **given, calibration_serial="SU-09"))
    assert told == [(True, "The calibration is of scanner SU-09, the rig has scanner SU-07.")]
