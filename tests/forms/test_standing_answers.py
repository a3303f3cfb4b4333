"""What stands already is shown together, and only what is ticked is asked again."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from scripted import Make, Scripted

from ledger.forms import ONCE_ONLY, FileFinder, Interview, Unfinished
from ledger.model.known import KnownBy, KnownValue

_LAST = {
    "run.mount_mode": KnownValue("drone"),
    "run.lever_arm": KnownValue(["0.1", "0", "0.2"], "m", KnownBy.MEASURED),
    "run.frame": KnownValue("NAD83(2011)", known_by=KnownBy.ASSUMED),
    "run.output_height_type": KnownValue("ellipsoidal"),
    "run.geoid_name": KnownValue("A"),
    "run.geoid_version": KnownValue("1"),
    "run.geoid_file": KnownValue("0" * 64, where="g.tif"),
    "run.purpose": KnownValue("first try"),
    "run.decision": KnownValue("rejected"),
    "run.reason": KnownValue("heights"),
}


def test_what_stands_already_is_shown_together_and_confirmed_by_leaving_it(make: Make) -> None:
    """One screen shows every carried answer; nothing ticked confirms all, the assumed stays so."""
    ask = Scripted()
    values = make(ask, _LAST).fill({})
    first = ask.asked[0]
    assert first.text == "As last time. Which of these are not right for this run"
    assert first.choices == (
        "Mount mode set in processing: drone",
        "Lever arm set in processing, to the scanner: 0.1 0 0.2 m",
        "Reference frame of the output: NAD83(2011) (assumed)",
        "Heights that came out: ellipsoidal",
        "Geoid model applied: A",
        "Version of the geoid model: 1",
        "Geoid grid file: g.tif",
    )
    assert values.keys() == {key for key in _LAST if key not in ONCE_ONLY}
    for key, known in values.items():
        assumed = key == "run.frame"
        assert known.known_by is (KnownBy.ASSUMED if assumed else KnownBy.CARRIED), key
        assert known.confirmed
        assert known.can_prove is not assumed
    asked = {question.key for question in ask.asked[1:]}
    assert not asked & values.keys()
    assert {"run.software", "run.orientation", "run.decision"} <= asked


def test_only_what_is_ticked_is_asked_again(make: Make) -> None:
    """A ticked answer is asked with the old one to be edited; the others are not asked."""
    ask = Scripted({"run.mount_mode": ["hand"]}, ticks=("Mount mode",))
    values = make(ask, _LAST).fill({})
    assert values["run.mount_mode"] == KnownValue("hand")
    assert values["run.output_height_type"].known_by is KnownBy.CARRIED
    again = [question for question in ask.asked if question.key in _LAST]
    assert [each.key for each in again] == ["run.mount_mode", "run.decision"]
    assert again[0].default == "drone"


def test_heights_of_another_kind_make_the_geoid_of_last_time_doubtful(make: Make) -> None:
    """Where a file tells of other heights, the geoid of last time is asked and not offered."""
    told = {"run.output_height_type": KnownValue("orthometric", known_by=KnownBy.READ)}
    last = {**_LAST, "run.geoid_name": KnownValue("none")}
    ask = Scripted({"run.geoid_name": ["B"]})
    values = make(ask, last).fill(told)
    assert not [each for each in ask.asked[0].choices if "eoid" in each]
    asked = {question.key: question.default for question in ask.asked}
    assert asked["run.geoid_name"] == ""
    assert values["run.geoid_name"] == KnownValue("B")


def test_a_tick_at_the_heights_asks_for_the_geoid_again(make: Make) -> None:
    """Whoever says that heights are of another kind now is asked which geoid made them so."""
    ask = Scripted({"run.output_height_type": ["orthometric"]}, ticks=("Heights that came",))
    make(ask, _LAST).fill({})
    assert "run.geoid_name" in {question.key for question in ask.asked}


def test_another_geoid_asks_its_version_and_grid_without_offering_the_old(make: Make) -> None:
    """What follows from a ticked answer is asked too, and the old one is no default for it."""
    ask = Scripted({"run.geoid_name": ["B"]}, ticks=("Geoid model",))
    values = make(ask, _LAST).fill({})
    assert values["run.geoid_name"] == KnownValue("B")
    assert not {"run.geoid_version", "run.geoid_file"} & values.keys()
    asked = {question.key: question.default for question in ask.asked}
    assert (asked["run.geoid_version"], asked["run.geoid_file"]) == ("", "")


def test_a_tick_that_was_a_slip_still_offers_what_follows(make: Make) -> None:
    """Where the answer turns out to be the same, version and grid are offered as before."""
    ask = Scripted(ticks=("Geoid model",))
    make(ask, _LAST).fill({})
    asked = {question.key: question.default for question in ask.asked}
    assert (asked["run.geoid_version"], asked["run.geoid_file"]) == ("1", "g.tif")


def test_what_a_file_tells_anew_takes_what_followed_from_the_old_along(make: Make) -> None:
    """A geoid read from settings is not shown with the version of the last one."""
    ask = Scripted()
    given = {"run.geoid_name": KnownValue("B", known_by=KnownBy.READ)}
    values = make(ask, _LAST).fill(given)
    assert not [each for each in ask.asked[0].choices if "eoid" in each]
    assert "run.geoid_version" not in values


def test_a_grid_that_changed_under_its_name_is_said(make: Make, tmp_path: Path) -> None:
    """Left as it is, a file is still what lies there now, and a person reads so."""
    (tmp_path / "g.tif").write_bytes(b"new")
    ask = Scripted()
    values = make(ask, _LAST).fill({})
    assert values["run.geoid_file"].known_by is KnownBy.TYPED
    assert any("g.tif (another file than last time lies there now)" in line for line in ask.told)


def test_questions_to_come_are_counted_without_what_was_shown(make: Make) -> None:
    """The first line says how much there is to look at and how much to answer."""
    ask = Scripted()
    make(ask, _LAST).fill({})
    questions = [each for each in ask.asked if each.key != "shown"]
    (count,) = re.findall(r"Run: 7 answers to look at, then (\d+) questions\.", ask.told[0])
    assert int(count) == len(questions) + 1  # the reason of a decision that stayed open
    assert questions[0].text.startswith(f"1/{count} ")


def test_what_was_left_as_shown_survives_an_interruption(make: Make) -> None:
    """Ctrl-C after the screen keeps what was confirmed there."""
    with pytest.raises(KeyboardInterrupt):
        make(Scripted(at="run.software"), _LAST).fill({})
    ask = Scripted()
    values = make(ask, _LAST).fill({})
    assert ask.asked[0].text == "Go on with 7 answers (no throws them away)"
    assert "shown" not in {each.key for each in ask.asked}
    assert values["run.mount_mode"].known_by is KnownBy.CARRIED


def test_what_the_plain_form_does_not_ask_for_is_shown_too(make: Make) -> None:
    """Axes and ranges of last time are not lost in silence; ticked they are asked."""
    carried = {
        "run.lever_arm": KnownValue(["0.1", "0", "0.2"], "m"),
        "run.lever_arm_convention": KnownValue("forward-right-down"),
        "run.range_max": KnownValue("90", "m"),
        "run.command": KnownValue("prog --fast", known_by=KnownBy.READ),
        "run.exit_status": KnownValue(0, known_by=KnownBy.READ),
        "run.started": KnownValue("2026-05-14T10:00:00Z"),
    }
    ask = Scripted({"run.range_max": ["80"]}, ticks=("Longest range",))
    values = make(ask, carried).fill({})
    assert [line.partition(":")[0] for line in ask.asked[0].choices] == [
        "Lever arm set in processing, to the scanner",
        "Axes of that lever arm, in order",
        "Longest range kept",
    ]
    assert values["run.lever_arm_convention"].known_by is KnownBy.CARRIED
    assert values["run.range_max"] == KnownValue("80", "m")
    assert not {"run.command", "run.exit_status", "run.started"} & values.keys()


def test_what_belongs_to_another_geoid_is_not_left_standing(make: Make) -> None:
    """How often a geoid was applied, and its frame, say nothing about the next one."""
    carried = {
        **_LAST,
        "run.geoid_applications": KnownValue(0),
        "run.geoid_frame": KnownValue("NAD83(2011)"),
        "run.vertical_datum": KnownValue("none"),
    }
    ask = Scripted(
        {"run.geoid_name": ["B"], "run.output_height_type": ["orthometric"]},
        ticks=("Geoid model", "Heights that came"),
    )
    values = make(ask, carried).fill({})
    stale = {"run.geoid_applications", "run.geoid_frame", "run.vertical_datum"}
    assert not stale & values.keys()
    asked = {question.key: question.default for question in ask.asked}
    assert {asked[key] for key in stale} == {""}


def test_another_rig_or_frame_takes_its_serial_and_epoch_along(tmp_path: Path) -> None:
    """On a field card, too, what followed from the old answer is not left standing."""
    carried = {
        "flight.rig": KnownValue("G1"),
        "flight.scanner_serial": KnownValue("SU-07"),
        "flight.frame": KnownValue("NAD83(2011)"),
        "flight.epoch": KnownValue("2010.0", "year"),
        "flight.speed": KnownValue("5", "m/s"),
    }
    ask = Scripted(
        {"flight.rig": ["G2"], "flight.frame": ["ITRF2020"]},
        ticks=("Rig that", "Reference frame"),
    )
    form = Interview("flight", ask, FileFinder(tmp_path), Unfinished(tmp_path, "flight"), carried)
    values = form.fill({})
    assert not {"flight.scanner_serial", "flight.epoch"} & values.keys()
    assert values["flight.speed"].known_by is KnownBy.CARRIED


def test_what_is_in_the_book_already_is_shown_the_same_way(tmp_path: Path) -> None:
    """A rig taken over from another job, or filled in again, is one screen, not ten questions."""
    standing = {
        "rig.scanner_serial": KnownValue("SU-07", known_by=KnownBy.CARRIED, confirmed=False),
        "rig.aircraft_serial": KnownValue("AC-03", known_by=KnownBy.TYPED),
    }
    ask = Scripted()
    unfinished = Unfinished(tmp_path, "rig")
    values = Interview("rig", ask, FileFinder(tmp_path), unfinished, standing=standing).fill({})
    assert ask.asked[0].text == "As recorded. Which of these are not right for this rig"
    assert values["rig.scanner_serial"] == KnownValue("SU-07", known_by=KnownBy.CARRIED)
    assert values["rig.aircraft_serial"] == KnownValue("AC-03")


@pytest.mark.parametrize(
    "spoiled", ["", "[1]", '{"run.zone": 1}', '{"about": "", "answers": {"run.zone": 1}}', "\x00"]
)
def test_spoiled_draft_is_as_none(tmp_path: Path, spoiled: str) -> None:
    """What lies in the scratch folder may be lost, and may be rubbish."""
    unfinished = Unfinished(tmp_path, "run")
    unfinished.keep({"run.zone": KnownValue("17N")})
    (path,) = (tmp_path / ".swathbook" / "drafts").iterdir()
    path.write_text(spoiled, encoding="utf-8")
    assert unfinished.read() is None


def test_cleared_draft_is_gone(tmp_path: Path) -> None:
    """Once the record is made, nothing is offered again."""
    unfinished = Unfinished(tmp_path, "run")
    unfinished.clear()
    unfinished.keep({"run.zone": KnownValue("17N")})
    kept = unfinished.read()
    assert kept is not None
    assert kept.answers == {"run.zone": KnownValue("17N")}
    unfinished.clear()
    assert unfinished.read() is None


def test_carried_file_is_what_lies_there_now(make: Make, tmp_path: Path) -> None:
    """Enter over a file that was changed since records the new bytes, as typed."""
    (tmp_path / "g.tif").write_bytes(b"new")
    carried = {
        "run.geoid_name": KnownValue("A"),
        "run.geoid_file": KnownValue("0" * 64, where="g.tif"),
    }
    known = make(Scripted(), carried).fill({})["run.geoid_file"]
    assert known.value != "0" * 64
    assert known.known_by is KnownBy.TYPED
    (tmp_path / "g.tif").unlink()
    Unfinished(tmp_path, "run").clear()
    known = make(Scripted(), carried).fill({})["run.geoid_file"]
    assert (known.value, known.known_by) == ("0" * 64, KnownBy.CARRIED)
