"""A person is asked only for blanks; nothing typed is lost, nothing assumed becomes proof."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from ledger.forms import ONCE_ONLY, FileFinder, Interview, Unfinished
from ledger.model.ask import NobodyToAsk, Question
from ledger.model.fields import FIELDS, list_fields
from ledger.model.known import KnownBy, KnownValue


class Scripted:
    """A person who answers by key: texts in turn, Enter for the default, or an exception."""

    interactive = True

    def __init__(self, answers: dict[str, list[str]], *, go_on: bool = True, at: str = "") -> None:
        """Keep the answers; at the key `at` the person presses Ctrl-C."""
        self._answers = {key: list(texts) for key, texts in answers.items()}
        self._go_on = go_on
        self._at = at
        self.asked: list[Question] = []

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
        """Never asked for here."""
        raise AssertionError(question)


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
    core = [field.key for field in list_fields("run") if field.core]
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
    ask = Scripted({"run.mount_mode": ["pole"], "run.orientation": [""]})
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


def test_answers_that_stay_wrong_end_as_a_blank(make: Make) -> None:
    """Nobody is held up for ever by one question."""
    ask = Scripted({"run.mount_mode": ["x", "y", "z", "drone"]})
    assert "run.mount_mode" not in make(ask).fill({})


def test_interrupted_form_is_offered_again(make: Make) -> None:
    """Ctrl-C loses no answer: the next form takes them up and asks the rest."""
    typed = {"run.software": ["p"], "run.lever_arm": ["0,1 0 0"]}
    with pytest.raises(KeyboardInterrupt):
        make(Scripted(typed, at="run.crs")).fill({})
    ask = Scripted({"run.crs": ["EPSG:6346"]})
    values = make(ask).fill({"run.version": KnownValue("2")})
    assert ask.asked[0].text == "A form was left with 2 answers. Go on with it"
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


@pytest.mark.parametrize("spoiled", ["", "[1]", '{"run.zone": 1}', "\x00"])
def test_spoiled_draft_is_as_none(tmp_path: Path, spoiled: str) -> None:
    """What lies in the scratch folder may be lost, and may be rubbish."""
    unfinished = Unfinished(tmp_path, "run")
    unfinished.keep({"run.zone": KnownValue("17N")})
    (path,) = (tmp_path / ".swathbook" / "drafts").iterdir()
    path.write_text(spoiled, encoding="utf-8")
    assert unfinished.read() == {}


def test_cleared_draft_is_gone(tmp_path: Path) -> None:
    """Once the record is made, nothing is offered again."""
    unfinished = Unfinished(tmp_path, "run")
    unfinished.clear()
    unfinished.keep({"run.zone": KnownValue("17N")})
    assert unfinished.read() == {"run.zone": KnownValue("17N")}
    unfinished.clear()
    assert unfinished.read() == {}


def test_carried_file_is_what_lies_there_now(make: Make, tmp_path: Path) -> None:
    """Enter over a file that was changed since records the new bytes, as typed."""
    (tmp_path / "g.tif").write_bytes(b"new")
    carried = {"run.geoid_file": KnownValue("0" * 64, where="g.tif")}
    known = make(Scripted({}), carried).fill({})["run.geoid_file"]
    assert known.value != "0" * 64
    assert known.known_by is KnownBy.TYPED
    (tmp_path / "g.tif").unlink()
    Unfinished(tmp_path, "run").clear()
    known = make(Scripted({}), carried).fill({})["run.geoid_file"]
    assert (known.value, known.known_by) == ("0" * 64, KnownBy.CARRIED)
