"""A step is recorded with the run behind it, and its descent decides like any other's.

The rule of descent is the project's own (architecture of custody); that a cleaning leaves kept
points where they were is common practice, no source.
"""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path

import pytest
from job_bench import JobBench
from scripted import Scripted

from ledger.errors import UsageError
from ledger.model.ask import NobodyToAsk, NoProgress
from ledger.model.entry import Draft, Kind
from ledger.model.known import KnownBy
from ledger.model.lineage import CustodyState
from ledger.model.process import Decision
from ledger.record.answers import Answers
from ledger.record.decision import record_decision
from ledger.record.result import RecordResult
from ledger.record.run import RunOptions, record_run
from ledger.record.step import StepOptions, record_step
from ledger.store.reading import Book
from ledger.store.writing import BookWriter
from ledger.trace import trace

MakeTile = Callable[..., Path]
NOBODY = NobodyToAsk()


def run(job: Path, *paths: Path, **more: object) -> RecordResult:
    """Record an accepted run."""
    answers = Answers(settings=("decision=accepted",))
    return record_run(job, RunOptions(paths, answers=answers, **more), NOBODY, NoProgress())  # type: ignore[arg-type]


def step(
    job: Path, *paths: Path, ask: object = NOBODY, settings: tuple[str, ...] = (), **more: object
) -> RecordResult:
    """Record a step."""
    options = StepOptions(paths, answers=Answers(settings=settings), **more)  # type: ignore[arg-type]
    return record_step(job, options, ask, NoProgress())  # type: ignore[arg-type]


@pytest.fixture
def made(job: Path, make_tile: MakeTile) -> Path:
    """Return a job with an accepted run of two tiles."""
    run(job, make_tile("out/R1/a.las"), make_tile("out/R1/b.las"))
    return job


# What is recorded.


def test_a_step_has_its_inputs_outputs_and_points(made: Path, make_tile: MakeTile) -> None:
    """Inputs are the files of the run; points that went in and came out are both counted."""
    clean = make_tile("out/S1/a.las", software="demo-clean 2.0", points=4)
    result = step(made, clean, inputs=("R1",), settings=("kind=cleaning", "decision=accepted"))
    assert (result.id, result.kind, result.decision) == ("S1", "step", "accepted")
    assert result.sources == ("R1",)
    assert [used.path for used in result.inputs] == ["out/R1/a.las", "out/R1/b.las"]
    assert (result.points_in, result.outputs[0].points) == (10, 4)
    with Book.open(made) as book:
        process = book.process("S1")
    assert process is not None
    assert (process.kind, process.decision) == ("step", Decision.ACCEPTED)
    assert {key: str(known.value) for key, known in process.values.items()} == {
        "step.kind": "cleaning",
        "step.software": "demo-clean",
        "step.version": "2.0",
        "step.crs": "EPSG:6346",
    }


def test_ids_of_steps_and_runs_are_counted_apart(made: Path, make_tile: MakeTile) -> None:
    """S2 works on what S1 made, and the next run is R2."""
    step(made, make_tile("out/S1/a.las", points=4), inputs=("R1",))
    result = step(made, make_tile("out/S2/a.las", points=3), inputs=("S1",))
    assert (result.id, result.sources) == ("S2", ("S1",))
    assert run(made, make_tile("out/R2/a.las", points=6)).id == "R2"


def test_single_files_may_go_in(made: Path, make_tile: MakeTile) -> None:
    """A file of the run, named by its path, is known as that run's without being read again."""
    clean = make_tile("out/S1/a.las", points=4)
    result = step(made, clean, inputs=(str(made / "out/R1/a.las"),))
    assert (result.sources, result.points_in) == (("R1",), 5)


def test_the_program_that_stayed_in_the_header_is_not_the_steps(
    made: Path, make_tile: MakeTile
) -> None:
    """A cleaning program that leaves the generating software alone is not taken for another."""
    kept = step(made, make_tile("out/S1/a.las", points=4), inputs=("R1",))
    assert "step.software" not in kept.values
    assert "step.software" in kept.not_recorded
    own = step(made, make_tile("out/S2/a.las", software="demo-clean 2.0"), inputs=("R1",))
    assert own.values["step.software"].value == "demo-clean"
    assert own.values["step.software"].known_by is KnownBy.READ


def test_a_cleaning_has_no_blank_heights(made: Path, make_tile: MakeTile) -> None:
    """What only a step that moves points can say is blank for that one alone."""
    cleaned = step(
        made, make_tile("out/S1/a.las", points=4), inputs=("R1",), settings=("kind=cleaning",)
    )
    assert "step.output_height_type" not in cleaned.not_recorded
    moved = step(
        made, make_tile("out/S2/a.las", points=3), inputs=("R1",), settings=("kind=reprojection",)
    )
    assert "step.output_height_type" in moved.not_recorded


def test_a_run_on_what_a_run_made_has_no_blank_mount_mode(made: Path, make_tile: MakeTile) -> None:
    """Who records a cleaning as a run is asked for no setting of a capture either."""
    later = run(made, make_tile("out/R2/a.las", points=4), inputs=("R1",))
    assert "run.mount_mode" not in later.not_recorded
    assert "run.output_height_type" in later.not_recorded
    assert "run.mount_mode" in run(made, make_tile("out/R3/a.las", points=6)).not_recorded


# What is refused, in one line.


def test_a_step_needs_what_it_worked_on(made: Path, make_tile: MakeTile) -> None:
    """Without a terminal the runs are listed, and the command is completed."""
    clean = make_tile("out/S1/a.las", points=4)
    with pytest.raises(UsageError, match="nobody said what the step worked on") as error:
        step(made, clean)
    assert "expected R1" in str(error.value)
    assert str(error.value).endswith("out/S1/a.las --input R1")


def test_a_flight_goes_into_a_run(made: Path, make_tile: MakeTile, job: Path) -> None:
    """A step on raw data is a run, and the command for that is printed."""
    with BookWriter.open(job) as writer:
        writer.append(Draft(Kind.FLIGHT, {"id": "F1", "name": "", "values": {}}))
    with pytest.raises(UsageError, match="not on a flight: found F1; record it as a run"):
        step(made, make_tile("out/S1/a.las", points=4), inputs=("F1",))


def test_files_that_no_run_made_are_no_input_of_a_step(made: Path, make_tile: MakeTile) -> None:
    """A cloud of unknown origin alone leaves the descent open, so it is refused."""
    strange = make_tile("elsewhere/x.las", points=7)
    with pytest.raises(UsageError, match="no run or step made what this step"):
        step(made, make_tile("out/S1/a.las", points=4), inputs=(str(strange),))


def test_without_any_run_there_is_no_step(job: Path, make_tile: MakeTile) -> None:
    """The run is recorded first."""
    with pytest.raises(UsageError, match="no run with outputs is recorded"):
        step(job, make_tile("out/S1/a.las"))


# At a terminal.


def test_the_only_run_is_offered(made: Path, make_tile: MakeTile) -> None:
    """With one run a yes is enough, and what follows from the kind is asked."""
    clean = make_tile("out/S1/a.las", points=4)
    ask = Scripted({"step.kind": "cleaning", "step.decision": "accepted"})
    result = step(made, clean, ask=ask)
    assert ask.texts("inputs") == [
        "Did this step work on what run R1 (demo-proc 4.1.0, 2 outputs, accepted) made"
    ]
    assert (result.sources, result.decision) == (("R1",), "accepted")
    asked = {question.key for question in ask.asked}
    assert "step.settings" in asked
    assert "step.output_height_type" not in asked


def test_a_step_that_moves_points_is_asked_into_what(made: Path, make_tile: MakeTile) -> None:
    """A reprojection is asked for heights and geoid."""
    ask = Scripted({"step.kind": "reprojection"})
    step(made, make_tile("out/S1/a.las", points=4), ask=ask)
    asked = {question.key for question in ask.asked}
    assert {"step.input_height_type", "step.output_height_type", "step.geoid_name"} <= asked


def test_of_several_runs_the_person_ticks(made: Path, make_tile: MakeTile) -> None:
    """A merge of two runs has both as inputs."""
    run(made, make_tile("out/R2/c.las", points=6))
    ask = Scripted({"step.kind": "merging"}, ticks=(0, 1))
    merged = step(made, make_tile("out/S1/all.las", points=16), ask=ask)
    assert set(merged.sources) == {"R1", "R2"}
    offered = ask.asked[0].choices
    assert [choice.split()[1] for choice in offered] == ["R2", "R1"]
    nothing = Scripted(ticks=(), yes=(False,))
    with pytest.raises(UsageError, match="nothing was chosen"):
        step(made, make_tile("out/S2/all.las", points=15), ask=nothing)


# What follows from it.


def test_a_file_of_run_and_step_descends_from_both(made: Path, make_tile: MakeTile) -> None:
    """A delivered file is traced through the step to the run."""
    clean = make_tile("out/S1/a.las", points=4)
    step(made, clean, inputs=("R1",), settings=("decision=accepted",))
    delivered = made / "deliver" / "a.las"
    delivered.parent.mkdir()
    shutil.copy(clean, delivered)
    found = trace(made, str(delivered))
    assert found.state is CustodyState.ACCEPTED
    assert [node.id for node in found.chain][1:3] == ["S1", "R1"]


def test_a_step_of_a_rejected_run_is_stale(made: Path, make_tile: MakeTile) -> None:
    """An accepted cleaning of what was rejected later is stale, with the run as the reason."""
    clean = make_tile("out/S1/a.las", points=4)
    step(made, clean, inputs=("R1",), settings=("decision=accepted",))
    record_decision(made, "R1", "rejected", "heights left ellipsoidal")
    found = trace(made, str(clean))
    assert found.state is CustodyState.STALE
    assert "R1" in found.sentence
    assert "rejected" in found.sentence


def test_a_rejected_step_leaves_its_run_alone(made: Path, make_tile: MakeTile) -> None:
    """The tiles of the run are still those of an accepted run."""
    clean = make_tile("out/S1/a.las", points=4)
    step(made, clean, inputs=("R1",), settings=("decision=rejected",))
    assert trace(made, str(clean)).state is CustodyState.STALE
    assert trace(made, str(made / "out/R1/b.las")).state is CustodyState.ACCEPTED


# Through the commands.


def test_run_step_and_delivery_conform(bench: JobBench, make_tile_in: MakeTile) -> None:
    """Register, run, step, audit: custody, versions and settings hold a cleaned delivery."""
    bench.write("raw/scan.bin", b"raw")
    bench.ask("register", "raw", "--flight", "F1")
    make_tile_in(bench.job, "out/R1/a.las")
    bench.ask("record", "out/R1", "--input", "F1", "--set", "decision=accepted")
    make_tile_in(bench.job, "out/S1/a.las", software="demo-clean 2.0", points=4)
    recorded = bench.ask(
        *("record", "step", "out/S1", "--input", "R1"),
        *("--set", "kind=cleaning", "--set", "decision=accepted"),
    )
    assert (recorded["id"], recorded["kind"], recorded["sources"]) == ("S1", "step", ["R1"])
    assert recorded["points_in"] == 5
    bench.copy(bench.job / "out/S1/a.las", "deliver/a.las")
    audit = bench.ask("audit", "deliver", status=None)
    counts = {each["check"]: each["count"] for each in audit["conforming"]}
    assert counts["custody-of-points"] == counts["software-version"] == 1
    about = {(finding["check"], finding["subject"]) for finding in audit["findings"]}
    for check in ("mount-chain", "position-chain", "lever-arm-chain", "height-chain"):
        assert (check, "R1") in about
        assert (check, "S1") not in about
    assert not [blank for blank in audit["blanks"] if blank["field"].startswith("step.")]


def test_the_empty_form_of_a_step(bench: JobBench) -> None:
    """It answers nothing as it stands, and can be given back as a form."""
    blank = bench.run("record", "step", "--blank")
    assert blank.status == 0
    assert 'kind = ""' in blank.out
    assert "[step]" in blank.out


def test_the_screen_counts_what_went_in_and_came_out(
    bench: JobBench, make_tile_in: MakeTile
) -> None:
    """A tired person sees at once that points are gone, and from what the step was made."""
    make_tile_in(bench.job, "out/R1/a.las")
    bench.ask("record", "out/R1", "--set", "decision=accepted")
    make_tile_in(bench.job, "out/S1/a.las", points=4)
    shown = bench.run("record", "step", "out/S1", "--input", "R1", "--set", "kind=cleaning").out
    assert "Recorded step S1" in shown
    assert "Made from 1 file of R1." in shown
    assert "Points: 5 in, 4 out; 1 fewer." in shown
    assert "swathbook amend S1 --set key=value" in shown
