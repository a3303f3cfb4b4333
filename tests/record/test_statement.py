"""A number that a report states is kept as stated, known everywhere, and vouched for nowhere."""

from __future__ import annotations

import hashlib
import json
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest
from documented import require
from job_bench import run_here
from scripted import Scripted

from ledger.amend import amend_record
from ledger.errors import UsageError
from ledger.frombook import register_book
from ledger.model.ask import NobodyToAsk, NoProgress, Question
from ledger.model.known import KnownBy, KnownValue
from ledger.record.answers import Answers
from ledger.record.card import CardOptions, record_card
from ledger.record.result import RecordResult
from ledger.record.run import RunOptions, record_run
from ledger.store.reading import Book

MakeFile = Callable[..., Path]

SAID = {
    "accuracy": "vertical",
    "statistic": "rmse",
    "value": "2,3 cm",
    "count": "14",
    "confidence": "95 %",
    "strata": "non-veg",
}


def state(job: Path, ask: object = None, name: str = "", **values: str) -> RecordResult:
    """Record a statement."""
    options = CardOptions(id=name, answers=Answers(values=values))
    return record_card(job, "statement", options, ask or NobodyToAsk())  # type: ignore[arg-type]


@pytest.fixture
def stated(job: Path, make_tile: MakeFile, put_file: MakeFile) -> Path:
    """Return a job with a run, a table of checkpoints, a report, and a statement about the run."""
    make_tile("out/tile.las")
    record_run(job, RunOptions(), NobodyToAsk(), NoProgress())
    put_file("control/checks.csv", b"id,e,n,h\n")
    put_file("report.txt", b"RMSE 0.023 m")
    files = {"checkpoints": "control/checks.csv", "report": "report.txt"}
    state(job, about="r1", **SAID, **files)
    return job


def test_a_statement_is_kept_with_its_number_in_metres_and_its_files_by_digest(
    stated: Path,
) -> None:
    """Choices by their beginning, a decimal comma, another unit; the id of the run in one form."""
    with Book.open(stated) as book:
        (card,) = book.cards("statement")
        assert book.card("T1") == card
    assert card.id == "T1"
    known = {key.partition(".")[2]: value for key, value in card.values.items()}
    assert known["about"] == KnownValue("R1")
    assert (known["accuracy"].value, known["statistic"].value) == ("vertical", "RMSE")
    assert (known["value"].value, known["value"].unit) == ("0.023", "m")
    assert known["value"].where == "typed as 2.3 cm (centimetre)"
    assert known["count"].value == 14
    assert (known["confidence"].value, known["confidence"].unit) == ("95", "%")
    assert known["strata"].value == "non-vegetated"
    digest = hashlib.sha256(b"id,e,n,h\n").hexdigest()
    assert (known["checkpoints"].value, known["checkpoints"].where) == (
        digest,
        "control/checks.csv",
    )


def test_the_next_statement_is_another_one(stated: Path) -> None:
    """One number is one statement; a later word about T1 adds to it."""
    assert state(stated, about="R1", value="0.05").id == "T2"
    assert state(stated, name="t1", unit="metre").id == "T1"
    with Book.open(stated) as book:
        first, second = book.cards("statement")
    assert first.values["statement.unit"].value == "metre"
    assert first.values["statement.value"].value == "0.023"
    assert second.values["statement.value"].value == "0.05"


@pytest.mark.parametrize("about", ["deliver", "./R9", "out/R1"])
def test_a_statement_may_be_about_a_folder(job: Path, about: str) -> None:
    """What is no id is taken as it was typed."""
    assert state(job, about=about).values["statement.about"].value == about


@pytest.mark.parametrize("about", ["R9", "s3", "run:r4"])
def test_a_statement_about_a_run_that_nobody_recorded_is_refused(job: Path, about: str) -> None:
    """An id of nothing is a slip."""
    with pytest.raises(UsageError, match="no run or step of this job"):
        state(job, about=about)
    with Book.open(job) as book:
        assert book.cards("statement") == ()


@pytest.mark.parametrize(
    "value", [{"value": "0.05 deg"}, {"confidence": "0.95 m"}, {"count": "1.5"}]
)
def test_a_number_of_another_kind_is_refused(job: Path, value: dict[str, str]) -> None:
    """Metres are metres, per cent per cent, and points are counted."""
    with pytest.raises(UsageError):
        state(job, **value)


def test_the_number_of_the_last_statement_is_not_offered(stated: Path) -> None:
    """What differs from one statement to the next is asked; the rest is shown together."""
    ask = Scripted({"statement.value": "0.045", "statement.count": "14"}, ticks=(2,))
    result = state(stated, ask)
    (shown,) = [question for question in ask.asked if question.key == "shown"]
    assert not [line for line in shown.choices if "0.023" in line or ": 14" in line]
    assert shown.choices[2] == "Which statistic: RMSE"
    asked = {question.key: question.default for question in ask.asked}
    assert (asked["statement.value"], asked["statement.count"]) == ("", "")
    assert asked["statement.statistic"] == "RMSE"
    assert result.values["statement.value"] == KnownValue("0.045", "m")
    assert result.values["statement.accuracy"].known_by is KnownBy.CARRIED


def test_status_find_and_trace_know_it_and_say_that_it_is_stated(stated: Path) -> None:
    """No screen lets a number that was stated look like one that was checked."""
    told = " ".join(run_here([], stated).out.split())
    sentence = "vertical RMSE 0.023 m of R1, from 14 points"
    assert f"T1, {sentence}. As stated; an audit computes it again." in told
    told = " ".join(run_here(["find", "--ask", "23"], stated).out.split())
    assert f"T1: {sentence}; as stated, nothing has computed it again" in told
    found = json.loads(run_here(["find", "checks.csv", "--json"], stated).out)
    require("find", found)
    assert [(hit["kind"], hit["id"]) for hit in found["hits"]] == [("statement", "T1")]
    ran = run_here(["trace", "T1"], stated)
    told = " ".join(ran.out.split())
    assert ran.status == 0
    assert "statement T1" in told
    assert "run R1" in told
    assert "states vertical, RMSE, 0.023 m, at 95 %, about R1" in told
    assert "from 14 points, non-vegetated, control/checks.csv" in told
    traced = json.loads(run_here(["trace", "t1", "--json"], stated).out)
    require("trace", traced)
    assert [node["id"] for node in traced["chain"]][:1] == ["T1"]
    assert "R1" in traced["chain"][0]["from"]
    told = " ".join(run_here(["trace", "control/checks.csv"], stated).out.split())
    assert "named by T1" in told


def test_an_amendment_strikes_the_number_through(stated: Path) -> None:
    """The old one stays; no audit is called out of date for it, since none judges a statement."""
    words = ["amend", "T1", "--set", "value=0.024 m", "--reason", "rounded wrongly", "--json"]
    amended = json.loads(run_here(words, stated).out)
    require("amend", amended)
    told = " ".join(run_here(["trace", "T1"], stated).out.split())
    assert "T1 value was 0.023 m" in told
    assert "0.024 m" in told


def test_an_unknown_statement_is_said_to_be_unknown(stated: Path) -> None:
    """With the last one that there is."""
    ran = run_here(["trace", "T7"], stated)
    assert ran.status == 1
    assert "There is no statement T7 in this book; the last is T1." in " ".join(ran.out.split())


def test_a_statement_of_another_computer_is_taken_over_under_its_own_number(
    stated: Path, tmp_path: Path
) -> None:
    """Both stated a second number; the other one becomes the next, about the same run."""
    other = tmp_path / "other"
    shutil.copytree(stated, other)
    state(stated, about="R1", value="0.05")
    state(other, about="R1", value="0.06")
    result = register_book(stated, other, NoProgress())
    assert result.ids == {"T2": "T3"}
    with Book.open(stated) as book:
        assert [card.values["statement.value"].value for card in book.cards("statement")] == [
            "0.023",
            "0.05",
            "0.06",
        ]


def test_the_printed_form_and_the_json_know_the_kind(job: Path) -> None:
    """The empty form is valid as it stands and answers nothing."""
    require(
        "record --blank",
        json.loads(run_here(["record", "statement", "--blank", "--json"], job).out),
    )
    form = run_here(["record", "statement", "--blank"], job).out
    assert form.startswith("# Statement: one number about accuracy, as a report states it.")
    (job / "t.toml").write_text(form.replace('value = ""', 'value = "0,03"'), encoding="utf-8")
    made = json.loads(run_here(["record", "statement", "--from", "t.toml", "--json"], job).out)
    require("record", made)
    assert (made["id"], made["kind"]) == ("T1", "statement")
    assert "statement.checkpoints" in made["not_recorded"]


@pytest.mark.parametrize("statistic", ["RMSE", "1.96 RMSE", "standard", "95th"])
def test_a_statistic_without_a_sign_is_refused_when_it_is_negative(
    job: Path, statistic: str
) -> None:
    """A root of squares is never below zero; nothing is entered, and 0 is a number like any."""
    with pytest.raises(UsageError, match=r"statement\.value is negative, and .* has no sign"):
        state(job, statistic=statistic, value="-0.0001")
    with Book.open(job) as book:
        assert book.cards("statement") == ()
    assert state(job, statistic=statistic, value="0").id == "T1"


@pytest.mark.parametrize("statistic", ["mean", "median", "largest"])
def test_a_statistic_with_a_sign_may_be_negative(job: Path, statistic: str) -> None:
    """A mean below zero says that the cloud lies low."""
    assert state(job, statistic=statistic, value="-0.02").values["statement.value"].value == "-0.02"


def test_a_negative_rmse_is_asked_again_at_a_terminal(job: Path) -> None:
    """It is refused in its own question, and stands there to be put right."""
    refused: list[str] = []

    class Typist(Scripted):
        def answer(self, question: Question) -> str:
            if question.key == "statement.value" and question.help:
                refused.append(question.help)
                return "0.023"
            return super().answer(question)

    ask = Typist({"statement.statistic": "RMSE", "statement.value": "-0,023"})
    assert state(job, ask=ask).values["statement.value"].value == "0.023"
    assert len(refused) == 1
    assert "has no sign" in refused[0]


def test_a_negative_number_is_no_rmse_by_amending_either(job: Path) -> None:
    """Neither the number nor the statistic is amended into what cannot be."""
    state(job, statistic="mean", value="-0.02")
    with pytest.raises(UsageError, match="has no sign"):
        amend_record(job, "T1", ("statistic=RMSE",), "it was the RMSE")
    amend_record(job, "T1", ("statistic=RMSE", "value=0.02"), "it was the RMSE")
    with pytest.raises(UsageError, match="has no sign"):
        amend_record(job, "T1", ("value=-0.03",), "a slip")
