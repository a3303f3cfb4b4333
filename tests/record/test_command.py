"""A command that is run here is recorded with how it ended and what it wrote."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from documented import require
from job_bench import run_here
from scripted import Scripted

from ledger.errors import ChangedFileError, UsageError
from ledger.model.ask import NobodyToAsk, NoProgress, Question
from ledger.model.known import KnownBy
from ledger.model.process import Process
from ledger.record.answers import Answers
from ledger.record.command import CommandOptions, record_command
from ledger.record.process import ProcessOptions
from ledger.record.result import RecordResult
from ledger.record.run import record_run
from ledger.record.verbs import RUN, STEP, Verb
from ledger.store.reading import Book

MakeTile = Callable[..., Path]
NOBODY = NobodyToAsk()

# Copies files as it is told (`from:to`), says something, and ends with a status.
PROGRAM = """
import pathlib, shutil, sys
status, *pairs = sys.argv[1:]
for pair in pairs:
    source, _, target = pair.partition(":")
    pathlib.Path(target).parent.mkdir(parents=True, exist_ok=True)
    shutil.copyfile(source, target)
print("said on stdout")
print("said on stderr", file=sys.stderr)
sys.exit(int(status))
"""


@pytest.fixture
def program(job: Path, make_tile: MakeTile, monkeypatch: pytest.MonkeyPatch) -> str:
    """Return a program in the job folder, where two tiles lie aside for it to copy."""
    make_tile("aside/a.las")
    make_tile("aside/b.las", points=7)
    (job / "program.py").write_text(PROGRAM, encoding="utf-8")
    monkeypatch.chdir(job)
    return "program.py"


def run(
    job: Path,
    *words: str,
    paths: tuple[str, ...] = (),
    verb: Verb = RUN,
    ask: object = NOBODY,
    yes: bool = True,
    inputs: tuple[str, ...] = (),
    **answers: str,
) -> RecordResult:
    """Run the program and record it."""
    options = ProcessOptions(
        paths=tuple(job / path for path in paths), inputs=inputs, answers=Answers(values=answers)
    )
    command = CommandOptions((sys.executable, *words), yes=yes)
    return record_command(job, verb, options, command, ask=ask, progress=NoProgress())  # type: ignore[arg-type]


def read(job: Path, name: str) -> Process:
    """Return a run or step of the book."""
    with Book.open(job) as book:
        process = book.process(name)
    assert process is not None
    return process


def count(job: Path) -> int:
    """Return how many runs and steps the book has."""
    with Book.open(job) as book:
        return len(book.processes())


def test_a_command_is_recorded_with_what_it_wrote(job: Path, program: str) -> None:
    """Command line, folder, times, exit status, and the new files in the folder of outputs."""
    result = run(job, program, "0", "aside/a.las:out/R1/a.las", "aside/b.las:out/R1/b.las")
    process = read(job, "R1")
    assert [output.file.path for output in process.outputs] == ["out/R1/a.las", "out/R1/b.las"]
    assert [output.points for output in process.outputs] == [5, 7]
    said = {key.removeprefix("run."): known for key, known in process.values.items()}
    assert said["command"].value.endswith(
        "program.py 0 aside/a.las:out/R1/a.las aside/b.las:out/R1/b.las"
    )
    assert (said["folder"].value, said["exit_status"].value) == (".", 0)
    assert said["started"].value <= said["ended"].value
    assert {said[name].known_by for name in ("command", "folder", "exit_status", "started")} == {
        KnownBy.READ
    }
    assert process.decision == "undecided"
    assert result.exit_status == 0


def test_what_lay_there_before_is_not_attributed_to_it(
    job: Path, program: str, make_tile: MakeTile
) -> None:
    """Only new files and files that changed; a file of yesterday stays without a run."""
    make_tile("out/old.las", points=9)
    make_tile("out/again.las", points=9)
    run(job, program, "0", "aside/a.las:out/again.las", "aside/b.las:out/new.las")
    names = [output.file.path for output in read(job, "R1").outputs]
    assert names == ["out/again.las", "out/new.las"]


def test_named_places_are_looked_at_in_place_of_the_folder_of_outputs(
    job: Path, program: str
) -> None:
    """A folder or a file that is not there yet, wherever it lies."""
    run(job, program, "0", "aside/a.las:made/x/a.las", "aside/b.las:out/b.las", paths=("made",))
    assert [output.file.path for output in read(job, "R1").outputs] == ["made/x/a.las"]


def test_a_step_is_run_the_same_way(job: Path, program: str, make_tile: MakeTile) -> None:
    """With what went in, and its own kind."""
    make_tile("out/R1/tile.las", points=11)
    record_run(job, ProcessOptions(paths=(job / "out/R1",)), NOBODY, NoProgress())
    run(job, program, "0", "aside/a.las:out/S1/a.las", verb=STEP, inputs=("R1",), kind="cleaning")
    step = read(job, "S1")
    assert step.values["step.kind"].value == "cleaning"
    assert step.values["step.exit_status"].value == 0
    assert [used.path for used in step.inputs] == ["out/R1/tile.las"]


def test_a_command_that_fails_and_leaves_files_is_rejected(job: Path, program: str) -> None:
    """Stale files come from just that; nobody is asked for its settings."""
    ask = Scripted(yes=(True,))
    result = run(job, program, "3", "aside/a.las:out/R1/a.las", ask=ask)
    process = read(job, "R1")
    assert (process.decision, process.reason) == (
        "rejected",
        "the command ended with exit status 3",
    )
    assert result.exit_status == 3
    assert [question.key for question in ask.asked] == []


def test_a_decision_that_was_given_counts_over_a_failure(job: Path, program: str) -> None:
    """Some programs end so after a warning; whoever knows says so."""
    run(job, program, "1", "aside/a.las:out/a.las", decision="accepted", reason="it only warned")
    assert (read(job, "R1").decision, read(job, "R1").reason) == ("accepted", "it only warned")


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("program.py", "4"), "ended with exit status 4 and left no file; nothing was entered"),
        (("program.py", "0"), "wrote no file there; nothing was entered"),
        (("program.py", "0", "aside/a.las:elsewhere/a.las"), "wrote no file there"),
    ],
)
def test_what_leaves_no_file_is_not_recorded(
    job: Path, program: str, words: tuple[str, ...], told: str
) -> None:
    """There is nothing whose origin anybody could ask for."""
    with pytest.raises(UsageError, match=told):
        run(job, *words)
    assert count(job) == 0


def test_what_cannot_be_started_is_one_line(job: Path, program: str) -> None:
    """The name, and what the system says."""
    options, command = ProcessOptions(), CommandOptions(("no-such-program-here",), yes=True)
    with pytest.raises(UsageError, match="cannot be started") as caught:
        record_command(job, RUN, options, command, ask=NOBODY, progress=NoProgress())
    assert "no-such-program-here" in str(caught.value)
    assert len(str(caught.value).splitlines()) == 1


@pytest.mark.parametrize("word", ["|", ">", "&&", ";", "2>&1"])
def test_what_only_a_shell_understands_is_refused_before_anything_runs(
    job: Path, program: str, word: str
) -> None:
    """A program would take it for the name of a file."""
    with pytest.raises(UsageError, match="without a shell"):
        run(job, program, "0", "aside/a.las:out/a.las", word, "x")
    assert not (job / "out" / "a.las").exists()


def test_nothing_runs_that_nobody_agreed_to(job: Path, program: str) -> None:
    """Without a terminal it needs --yes; at one, no is no."""
    words = (program, "0", "aside/a.las:out/a.las")
    with pytest.raises(UsageError, match="nobody is there to say") as caught:
        run(job, *words, yes=False)
    assert "add --yes" in str(caught.value)
    ask = Scripted(yes=(False,))
    with pytest.raises(UsageError, match="was not run"):
        run(job, *words, yes=False, ask=ask)
    (question,) = ask.asked
    assert "program.py 0 aside/a.las:out/a.las" in question.text
    assert not (job / "out" / "a.las").exists()
    run(job, *words, yes=False, ask=Scripted(yes=(True,)))
    assert count(job) == 1


def test_a_slip_in_an_answer_is_told_before_anything_runs(job: Path, program: str) -> None:
    """An hour of processing is not begun for a record that cannot be made."""
    with pytest.raises(UsageError, match="dorne"):
        run(job, program, "0", "aside/a.las:out/a.las", mount_mode="dorne")
    assert not (job / "out" / "a.las").exists()


def test_secrets_of_the_command_line_reach_neither_book_nor_screen(job: Path, program: str) -> None:
    """Taken out before anything is kept or shown; what was taken out is named."""
    hidden = "Zx9-kw!7Qp"
    words = ["record", "--command", "--yes", "--", sys.executable, program, "0"]
    pairs = ["aside/a.las:out/a.las"]
    (job / "program.py").write_text(
        PROGRAM.replace("sys.argv[1:]", "sys.argv[1:-2]"), encoding="utf-8"
    )
    ran = run_here([*words, *pairs, "--password", hidden], job)
    assert ran.status == 0, ran.err
    assert hidden not in ran.out + ran.err
    assert "Secrets were not kept: command: --password" in " ".join(ran.out.split())
    assert hidden.encode() not in (job / "swathbook.sqlite").read_bytes()
    assert "[taken out]" in read(job, "R1").values["run.command"].value


def test_exit_statuses_and_streams(job: Path, program: str) -> None:
    """0 as it should be, 1 for what was recorded as rejected, 2 for nothing entered; JSON alone."""
    words = [sys.executable, "-P", "-m", "ledger.cli", "record", "--json", "--command", "--yes"]

    def start(*rest: str) -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            [*words, "--", sys.executable, program, *rest],
            cwd=job,
            capture_output=True,
            text=True,
            check=False,
            stdin=subprocess.DEVNULL,
        )

    done = start("0", "aside/a.las:out/R1/a.las")
    assert done.returncode == 0, done.stderr
    told = json.loads(done.stdout)
    require("record", told)
    assert told["id"] == "R1"
    assert "said on stdout" in done.stderr
    assert "said on stderr" in done.stderr
    done = start("3", "aside/b.las:out/R2/b.las")
    assert (done.returncode, json.loads(done.stdout)["decision"]) == (1, "rejected")
    done = start("3")
    assert done.returncode == 2
    require("errors", json.loads(done.stdout))


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["record", "--command"], "no command is named"),
        (["record", "--command", "--yes", "--"], "no command is named"),
        (["record", "--yes"], "--yes speaks of a command"),
        (["record", "step", "--command"], "no command is named"),
        (["record", "flight", "--command", "--", "x"], "no such option"),
    ],
)
def test_wrong_usage_is_one_line(job: Path, words: list[str], told: str) -> None:
    """What is missing is named."""
    ran = run_here(words, job)
    assert ran.status == 2
    assert told in ran.err
    assert len(ran.lines) == 1


def test_what_stands_before_the_dashes_is_ours_and_behind_is_the_commands(
    job: Path, program: str
) -> None:
    """Options of the same name behind the dashes are not read."""
    (job / "program.py").write_text(
        PROGRAM.replace("sys.argv[1:]", "[w for w in sys.argv[1:] if '--' not in w]"),
        encoding="utf-8",
    )
    line = ["record", "out/x", "--set", "mount_mode=drone", "--command", "--yes", "--"]
    line += [sys.executable, program, "0", "aside/a.las:out/x/a.las", "--json", "--name=no"]
    ran = run_here(line, job)
    assert ran.status == 0, ran.err
    assert ran.out.startswith("Recorded run R1")
    process = read(job, "R1")
    assert process.name == ""
    assert process.values["run.mount_mode"].value == "drone"


def test_the_form_that_follows_can_be_gone_on_with(
    job: Path, program: str, make_tile: MakeTile
) -> None:
    """Who stops in the form loses neither what was run nor when; the command is not run again."""
    with pytest.raises(KeyboardInterrupt, match=r"go on with: swathbook record .*out/R1"):
        run(job, program, "0", "aside/a.las:out/R1/a.las", ask=Scripted(at="run.mount_mode"))
    assert count(job) == 0
    record_run(job, ProcessOptions(paths=(job / "out/R1",)), Scripted(), NoProgress())
    values = read(job, "R1").values
    assert values["run.exit_status"].value == 0
    assert values["run.command"].value.endswith("aside/a.las:out/R1/a.las")


def test_an_output_that_is_still_being_written_enters_nothing(job: Path, program: str) -> None:
    """A command that leaves work in the background is seen like any other change."""

    class Late(Scripted):
        def answer(self, question: Question) -> str:
            os.utime(job / "out" / "a.las")
            return super().answer(question)

    with pytest.raises(ChangedFileError):
        run(job, program, "0", "aside/a.las:out/a.las", ask=Late())
    assert count(job) == 0


@pytest.mark.parametrize("decision", ["accepted", "rejected"])
def test_a_plain_copy_of_a_known_output_is_no_run(
    job: Path, make_tile: MakeTile, program: str, decision: str
) -> None:
    """What a command only copied was made by the run that wrote it first, rejected or not."""
    make_tile("out/R1/tile.las")
    record_run(
        job, ProcessOptions(answers=Answers(values={"decision": decision})), NOBODY, NoProgress()
    )
    copier = "import shutil, sys; shutil.copyfile(sys.argv[1], sys.argv[2])"
    (job / "out" / "again").mkdir()
    result = run(job, "-c", copier, "out/R1/tile.las", "out/again/tile.las")
    assert (result.kind, result.id) == ("sighting", "")
    assert result.seen == ("out/again/tile.las",)
    with Book.open(job) as book:
        assert [process.id for process in book.processes()] == ["R1"]
        digest = book.processes()[0].outputs[0].file.sha256
        assert "out/again/tile.las" in {use.file.path for use in book.uses(digest)}
    told = run_here(
        ["record", "--command", "--yes", "--", sys.executable, "-c", copier,
         "out/R1/tile.las", "out/again/tile2.las"],
        job,
    )  # fmt: skip
    assert told.status == 0, told.err
    assert "the command only copied what runs of the book made" in " ".join(told.out.split())


def test_a_program_that_runs_again_and_writes_the_same_is_a_run(
    job: Path, make_tile: MakeTile, program: str
) -> None:
    """The same bytes from the same raw file are no copy of the output: nothing names that one."""
    first = run(job, program, "0", "aside/a.las:out/1/a.las")
    second = run(job, program, "0", "aside/a.las:out/2/a.las")
    assert (first.id, second.id) == ("R1", "R2")


def test_a_copy_beside_something_new_is_recorded_as_before(
    job: Path, make_tile: MakeTile, program: str
) -> None:
    """A command that made anything is recorded with all that it wrote."""
    make_tile("out/R1/tile.las")
    record_run(job, ProcessOptions(), NOBODY, NoProgress())
    maker = (
        "import pathlib, shutil, sys; shutil.copyfile(sys.argv[1], sys.argv[2]);"
        " pathlib.Path('out/again/new.tif').write_bytes(b'II*\\x00 new')"
    )
    (job / "out" / "again").mkdir()
    result = run(job, "-c", maker, "out/R1/tile.las", "out/again/tile.las")
    assert result.id == "R2"
    assert len(result.outputs) == 2
