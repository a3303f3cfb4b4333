"""A person is asked only for blanks; nothing typed is lost, nothing assumed becomes proof."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import pytest

from ledger.forms import ONCE_ONLY, FileFinder, Interview, Unfinished
from ledger.model.ask import NobodyToAsk, Question
from ledger.model.fields import FIELDS, list_fields
from ledger.model.known import KnownBy, KnownValue

_ARM = "Lever arm set in processing, to the scanner"


class Scripted:
    """A person who answers by key: texts in turn, Enter for the default, or an exception."""

    interactive = True

    def __init__(
        self,
        answers: dict[str, list[str]],
        *,
        go_on: bool = True,
        at: str = "",
        ticks: tuple[str, ...] = (),
    ) -> None:
        """Keep the answers; at the key `at` the person presses Ctrl-C, `ticks` begin choices."""
        self._ticks = ticks
        self._answers = {key: list(texts) for key, texts in answers.items()}
        self._go_on = go_on
        self._at = at
        self.asked: list[Question] = []
        self.told: list[str] = []

    def answer(self, question: Question) -> str:
        """Return the next answer to this key; Enter where none is left."""
        self.asked.append(question)
        if question.key == self._at:
            raise KeyboardInterrupt
        waiting = self._answers.get(question.key)
        return waiting.pop(0) if waiting else question.default

    def confirm(self, question: Question) -> bool:
        """Take up a form that was interrupted, or not."""
        self.asked.append(question)
        return self._go_on

    def choose_many(self, question: Question) -> tuple[str, ...]:
        """Tick what is not right of the answers that are shown together."""
        self.asked.append(question)
        return tuple(each for each in question.choices if each.startswith(self._ticks))

    def tell(self, line: str) -> None:
        """Keep what is said between questions."""
        self.told.append(line)


Make = Callable[..., Interview]


@pytest.fixture
def make(tmp_path: Path) -> Make:
    """Return a maker of interviews in a job folder."""

    def build(ask: object, carried: dict[str, KnownValue] | None = None) -> Interview:
        finder = FileFinder(job=tmp_path, folders=(tmp_path,))
        unfinished = Unfinished(tmp_path, "run")
        return Interview("run", ask, finder, unfinished, carried or {})  # type: ignore[arg-type]

    return build


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
    ask = Scripted({})
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
    values = make(Scripted({}), carried).fill({})
    assert values["run.frame"].known_by is KnownBy.ASSUMED
    assert not values["run.frame"].can_prove


def test_what_belongs_to_one_occasion_is_not_offered(make: Make, tmp_path: Path) -> None:
    """The decision on the last run, or the last antenna height, is no default for the next."""
    assert set(FIELDS) >= ONCE_ONLY
    carried = {"run.decision": KnownValue("accepted"), "run.reason": KnownValue("fits")}
    ask = Scripted({})
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
    assert make(Scripted({}, go_on=False)).fill({}) == {}
    ask = Scripted({})
    make(ask).fill({})
    assert ask.asked[0].key == "run.software"


def test_what_was_read_from_files_is_not_kept(make: Make) -> None:
    """Read from other outputs it would be another value; it is read again instead."""
    given = {"run.software": KnownValue("p", known_by=KnownBy.READ)}
    with pytest.raises(KeyboardInterrupt):
        make(Scripted({"run.version": ["2"]}, at="run.crs")).fill(given)
    ask = Scripted({})
    assert make(ask).fill({}) == {"run.version": KnownValue("2")}
    assert ask.asked[0].text == "Go on with 1 answer (no throws them away)"


@pytest.mark.parametrize(("about", "default"), [("out/R1", "yes"), ("out/R2", "no")])
def test_answers_about_other_outputs_are_not_offered_by_enter(
    tmp_path: Path, about: str, default: str
) -> None:
    """Answers about one run are offered for another one, and Enter does not take them."""
    Unfinished(tmp_path, "run", "out/R1").keep({"run.version": KnownValue("2")})
    ask = Scripted({}, go_on=False)
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
    ask = Scripted({})
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
    ask = Scripted({}, ticks=("Geoid model",))
    make(ask, _LAST).fill({})
    asked = {question.key: question.default for question in ask.asked}
    assert (asked["run.geoid_version"], asked["run.geoid_file"]) == ("1", "g.tif")


def test_what_a_file_tells_anew_takes_what_followed_from_the_old_along(make: Make) -> None:
    """A geoid read from settings is not shown with the version of the last one."""
    ask = Scripted({})
    given = {"run.geoid_name": KnownValue("B", known_by=KnownBy.READ)}
    values = make(ask, _LAST).fill(given)
    assert not [each for each in ask.asked[0].choices if "eoid" in each]
    assert "run.geoid_version" not in values


def test_a_grid_that_changed_under_its_name_is_said(make: Make, tmp_path: Path) -> None:
    """Left as it is, a file is still what lies there now, and a person reads so."""
    (tmp_path / "g.tif").write_bytes(b"new")
    ask = Scripted({})
    values = make(ask, _LAST).fill({})
    assert values["run.geoid_file"].known_by is KnownBy.TYPED
    assert any("g.tif (another file than last time lies there now)" in line for line in ask.told)


def test_questions_to_come_are_counted_without_what_was_shown(make: Make) -> None:
    """The first line says how much there is to look at and how much to answer."""
    ask = Scripted({})
    make(ask, _LAST).fill({})
    questions = [each for each in ask.asked if each.key != "shown"]
    (count,) = re.findall(r"Run: 7 answers to look at, then (\d+) questions\.", ask.told[0])
    assert int(count) == len(questions) + 1  # the reason of a decision that stayed open
    assert questions[0].text.startswith(f"1/{count} ")


def test_what_was_left_as_shown_survives_an_interruption(make: Make) -> None:
    """Ctrl-C after the screen keeps what was confirmed there."""
    with pytest.raises(KeyboardInterrupt):
        make(Scripted({}, at="run.software"), _LAST).fill({})
    ask = Scripted({})
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
    ask = Scripted({})
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
    known = make(Scripted({}), carried).fill({})["run.geoid_file"]
    assert known.value != "0" * 64
    assert known.known_by is KnownBy.TYPED
    (tmp_path / "g.tif").unlink()
    Unfinished(tmp_path, "run").clear()
    known = make(Scripted({}), carried).fill({})["run.geoid_file"]
    assert (known.value, known.known_by) == ("0" * 64, KnownBy.CARRIED)
