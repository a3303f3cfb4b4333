"""A person is asked only for blanks; nothing typed is lost, nothing assumed becomes proof."""

from __future__ import annotations

from pathlib import Path

import pytest
from scripted import Make, Scripted

from ledger.forms import ONCE_ONLY, FileFinder, Interview, Unfinished
from ledger.model.ask import NobodyToAsk
from ledger.model.fields import FIELDS, list_fields
from ledger.model.known import KnownBy, KnownValue

_ARM = "Lever arm set in processing, to the scanner"


def test_only_blanks_of_the_plain_form_are_asked(make: Make) -> None:
    """Given values are not asked, nor fields outside of the plain form."""
    ask = Scripted({"run.mount_mode": ["drone"]})
    given = {"run.software": KnownValue("p", known_by=KnownBy.READ)}
    values = make(ask).fill(given)
    core = [field.key for field in list_fields("run") if field.core and not field.follows]
    assert [question.key for question in ask.asked] == [k for k in core if k != "run.software"]
    assert values == {**given, "run.mount_mode": KnownValue("drone")}


def test_nobody_there_means_no_question_and_nothing_carried(make: Make) -> None:
    """Without a terminal only what was given is recorded."""
    carried = {"run.mount_mode": KnownValue("drone")}
    assert make(NobodyToAsk(), carried).fill({}) == {}


def test_enter_confirms_what_was_carried(make: Make) -> None:
    """Enter keeps the carried value as carried, and now confirmed."""
    carried = {"run.lever_arm": KnownValue(["0.1", "0", "0.2"], "m", KnownBy.MEASURED)}
    ask = Scripted()
    values = make(ask, carried).fill({})
    known = values["run.lever_arm"]
    assert known == KnownValue(["0.1", "0", "0.2"], "m", KnownBy.CARRIED, confirmed=True)
    assert known.can_prove
    shown = next(question for question in ask.asked if question.key == "run.lever_arm")
    assert shown.default == "0.1 0 0.2 m"


def test_another_answer_replaces_what_was_carried(make: Make) -> None:
    """A different answer is typed, an emptied one is blank."""
    carried = {"run.mount_mode": KnownValue("drone"), "run.orientation": KnownValue("upright")}
    ask = Scripted(
        {"run.mount_mode": ["pole"], "run.orientation": [""]}, ticks=("Mount", "Scanner orient")
    )
    values = make(ask, carried).fill({})
    assert values == {"run.mount_mode": KnownValue("pole")}


def test_what_was_assumed_stays_assumed(make: Make) -> None:
    """Pressing Enter over an assumed value does not turn it into proof."""
    carried = {"run.frame": KnownValue("NAD83(2011)", known_by=KnownBy.ASSUMED)}
    values = make(Scripted(), carried).fill({})
    assert values["run.frame"].known_by is KnownBy.ASSUMED
    assert not values["run.frame"].can_prove


def test_what_belongs_to_one_occasion_is_not_offered(make: Make, tmp_path: Path) -> None:
    """The decision on the last run, or the last antenna height, is no default for the next."""
    assert set(FIELDS) >= ONCE_ONLY
    carried = {"run.decision": KnownValue("accepted"), "run.reason": KnownValue("fits")}
    ask = Scripted()
    assert make(ask, carried).fill({}) == {}
    assert not any(question.default for question in ask.asked)


def test_wrong_answer_is_explained_and_asked_again(make: Make) -> None:
    """The second question about the same key says what was wrong with the first answer."""
    ask = Scripted({"run.mount_mode": ["dorne", "drone"]})
    values = make(ask).fill({})
    first, second = (question for question in ask.asked if question.key == "run.mount_mode")
    assert first.help == ""
    assert "did you mean drone?" in second.help
    assert values["run.mount_mode"] == KnownValue("drone")


def test_answers_that_stay_wrong_are_never_dropped_in_silence(make: Make) -> None:
    """Each wrong answer is explained and stands there to be put right; none becomes a blank."""
    ask = Scripted({"run.lever_arm": ["1", "1 2", "1 2 3 4", "x", "1 2 3"]})
    assert make(ask).fill({})["run.lever_arm"] == KnownValue(["1", "2", "3"], "m")
    asked = [question for question in ask.asked if question.key == "run.lever_arm"]
    assert [question.default for question in asked] == ["", "1", "1 2", "1 2 3 4", "x"]
    assert all("This is not three numbers" in question.help for question in asked[1:])
    assert all("empty the line: that leaves it blank" in each.hint for each in asked[1:])


def test_an_emptied_line_ends_a_wrong_answer_and_is_said(make: Make) -> None:
    """Whoever gives up empties the line, and reads that the field is blank."""
    ask = Scripted({"run.lever_arm": ["1 2", ""]})
    assert "run.lever_arm" not in make(ask).fill({})
    assert f"{_ARM}: left blank" in ask.told


def test_every_question_says_its_format_and_what_enter_does(make: Make) -> None:
    """Unit and format stand below the question, as does what Enter does there."""
    ask = Scripted({"run.lever_arm": ["0,1 0 0"], "run.geoid_name": ["A"]})
    carried = {"run.frame": KnownValue("NAD83(2011)")}
    make(ask, carried).fill({})
    hints = {question.key: question.hint for question in ask.asked}
    assert hints["run.lever_arm"].startswith("x y z in metres: 0.112 -0.004 0.231")
    assert hints["run.lever_arm"].endswith("Enter leaves it blank")
    assert hints["run.frame"].endswith("Enter takes it, an emptied line leaves it blank")
    assert hints["run.mount_mode"].endswith("arrows move, Enter takes what is marked")
    assert hints["run.geoid_file"].startswith("path of the file")
    assert all("Enter" in hint for hint in hints.values())


def test_an_answer_is_told_as_it_was_understood(make: Make) -> None:
    """A decimal comma, another unit and another time zone are seen at once."""
    ask = Scripted({"run.lever_arm": ["11,2 0,4 23,1 cm"]})
    make(ask, {"run.frame": KnownValue("ITRF2020")}).fill({})
    assert any(
        line.startswith(f"{_ARM}: 0.112 0.004 0.231 m (typed as 11.2 cm") for line in ask.told
    )
    assert "Reference frame of the output: ITRF2020 (as last time)" in ask.told


def test_what_follows_from_a_blank_is_not_asked(tmp_path: Path) -> None:
    """Without a lever arm nobody is asked for its axes, nor for the date of its measurement."""

    def ask_rig(arm: list[str], given: dict[str, KnownValue]) -> set[str]:
        ask = Scripted({"rig.lever_arm_aircraft": arm})
        unfinished = Unfinished(tmp_path, "rig")
        Interview("rig", ask, FileFinder(tmp_path), unfinished).fill(given)
        unfinished.clear()
        return {question.key for question in ask.asked}

    about_arm = {"rig.lever_arm_convention", "rig.lever_arm_measured"}
    assert not ask_rig([""], {}) & about_arm
    assert ask_rig(["0.1 0 0.2"], {}) >= about_arm
    other = {"rig.lever_arm_scanner": KnownValue(["0", "0", "0"], "m")}
    assert ask_rig([""], other) >= about_arm


def test_no_geoid_means_no_question_about_its_version(make: Make) -> None:
    """`none` is an answer, and then neither version nor grid is asked."""
    ask = Scripted({"run.geoid_name": ["none"]})
    make(ask).fill({})
    assert not {"run.geoid_version", "run.geoid_file"} & {each.key for each in ask.asked}


def test_what_decides_is_asked_before_what_follows() -> None:
    """A question whose turn comes before the one that it follows would never be asked."""
    order = list(FIELDS)
    for field in FIELDS.values():
        for deciding in {field.when[0], *field.follows} - {""}:
            assert order.index(deciding) < order.index(field.key), field.key


def test_questions_are_counted(make: Make) -> None:
    """The number of questions to come never grows on the way."""
    ask = Scripted({"run.geoid_name": ["A"], "run.decision": ["rejected"]})
    make(ask).fill({})
    counts = [int(question.text.split()[0].split("/")[1]) for question in ask.asked]
    assert counts == sorted(counts, reverse=True)
    assert counts[-1] == len(ask.asked)
    assert ask.told[0].startswith(f"Run: {counts[0]} questions.")


def test_emptying_what_is_recorded_takes_nothing_away(tmp_path: Path) -> None:
    """An entry adds and replaces; that a recorded value stays is said."""
    standing = {"rig.scanner_serial": KnownValue("SU-07")}
    ask = Scripted({"rig.scanner_serial": [""]})
    form = Interview(
        "rig", ask, FileFinder(tmp_path), Unfinished(tmp_path, "rig"), standing=standing
    )
    assert form.fill({}) == {}
    assert any("SU-07, stays as it is recorded" in line for line in ask.told)


def test_interrupted_form_is_offered_again(make: Make) -> None:
    """Ctrl-C loses no answer: the next form takes them up and asks the rest."""
    typed = {"run.software": ["p"], "run.lever_arm": ["0,1 0 0"]}
    with pytest.raises(KeyboardInterrupt):
        make(Scripted(typed, at="run.crs")).fill({})
    ask = Scripted({"run.crs": ["EPSG:6346"]})
    values = make(ask).fill({"run.version": KnownValue("2")})
    assert ask.asked[0].text == "Go on with 2 answers (no throws them away)"
    assert ask.told[0].startswith("A form was left on 2")
    assert ask.told[1:3] == ["  software = p", "  lever_arm = 0.1 0 0 m"]
    assert "run.software" not in {question.key for question in ask.asked}
    assert values == {
        "run.version": KnownValue("2"),
        "run.software": KnownValue("p"),
        "run.lever_arm": KnownValue(["0.1", "0", "0"], "m"),
        "run.crs": KnownValue("EPSG:6346"),
    }


def test_interrupted_form_can_be_thrown_away(make: Make) -> None:
    """A person who says no begins with an empty form, and is not asked again."""
    with pytest.raises(KeyboardInterrupt):
        make(Scripted({"run.software": ["p"]}, at="run.crs")).fill({})
    assert make(Scripted(yes=[False])).fill({}) == {}
    ask = Scripted()
    make(ask).fill({})
    assert ask.asked[0].key == "run.software"


def test_what_was_read_from_files_is_not_kept(make: Make) -> None:
    """Read from other outputs it would be another value; it is read again instead."""
    given = {"run.software": KnownValue("p", known_by=KnownBy.READ)}
    with pytest.raises(KeyboardInterrupt):
        make(Scripted({"run.version": ["2"]}, at="run.crs")).fill(given)
    ask = Scripted()
    assert make(ask).fill({}) == {"run.version": KnownValue("2")}
    assert ask.asked[0].text == "Go on with 1 answer (no throws them away)"


@pytest.mark.parametrize(("about", "default"), [("out/R1", "yes"), ("out/R2", "no")])
def test_answers_about_other_outputs_are_not_offered_by_enter(
    tmp_path: Path, about: str, default: str
) -> None:
    """Answers about one run are offered for another one, and Enter does not take them."""
    Unfinished(tmp_path, "run", "out/R1").keep({"run.version": KnownValue("2")})
    ask = Scripted(yes=[False])
    Interview("run", ask, FileFinder(tmp_path), Unfinished(tmp_path, "run", about)).fill({})
    assert "about out/R1" in ask.told[0]
    assert ask.asked[0].default == default


@pytest.mark.parametrize("stop", [KeyboardInterrupt, EOFError])
def test_who_stops_reads_what_is_kept_and_how_to_go_on(
    tmp_path: Path, stop: type[BaseException]
) -> None:
    """Ctrl-C, or Ctrl-D, ends with the number of answers, their place and the command."""
    unfinished = Unfinished(tmp_path, "rig-new")
    with (
        pytest.raises(KeyboardInterrupt, match="no answer was given yet"),
        unfinished.explain_stop("swathbook record rig"),
    ):
        raise stop
    unfinished.keep({"rig.bracket": KnownValue("B")})
    with (
        pytest.raises(KeyboardInterrupt) as caught,
        unfinished.explain_stop("swathbook record rig"),
    ):
        raise stop
    assert str(caught.value) == (
        "nothing was entered; 1 answer is kept in .swathbook/drafts/rig-new.json; "
        "go on with: swathbook record rig"
    )
