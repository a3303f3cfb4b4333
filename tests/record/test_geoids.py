"""Registered geoid grids are offered as answers; a grid is known by its bytes, not by its name."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from scripted import Scripted

from ledger.demo.geoids import write_geoids
from ledger.fixity import read_fixity
from ledger.forms import TYPED
from ledger.model.ask import NoProgress
from ledger.model.known import KnownBy, KnownValue
from ledger.record.answers import Answers
from ledger.record.result import RecordResult
from ledger.record.run import RunOptions, record_run
from ledger.register import RegisterOptions, register_paths

MakeTile = Callable[..., Path]
GRID = "geoid/demo-geoid-A.tif"
SPECIFICATION = """\
{carried}
[coordinates]
geoid = {{ name = "demo-geoid-A", version = "1", file = "{file}" }}
"""


def record(job: Path, ask: object, **answers: str) -> RecordResult:
    """Record a run, asking a person."""
    options = RunOptions(answers=Answers(values=answers))
    return record_run(job, options, ask, NoProgress())  # type: ignore[arg-type]


@pytest.fixture
def grids(job: Path) -> Path:
    """Return a job with two registered grids, of which `job.toml` names none."""
    write_geoids(job / "geoid")
    register_paths(job, [job / "geoid"], RegisterOptions(), NoProgress())
    return job


def specify(job: Path, carried: str = "", file: str = GRID) -> None:
    """Write what the job asks for."""
    text = SPECIFICATION.format(carried=carried, file=file)
    (job / "job.toml").write_text(text, encoding="utf-8")


def choose(job: Path, begins: str) -> tuple[Scripted, RecordResult]:
    """Choose what begins so, and return the person and the run."""
    ask = Scripted(picks={"run.geoid_name": begins})
    return ask, record(job, ask)


def test_a_chosen_grid_gives_name_version_and_file(grids: Path, make_tile: MakeTile) -> None:
    """The grid of job.toml stands first with its version; one choice answers three questions."""
    specify(grids)
    make_tile("out/tile.las")
    ask, result = choose(grids, "demo-geoid-A")
    (question,) = (each for each in ask.asked if each.key == "run.geoid_name")
    assert question.choices == (
        f"demo-geoid-A, version 1; {GRID}; gives heights of EPSG:5703",
        "demo-geoid-B; geoid/demo-geoid-B.tif; gives heights of EPSG:5703",
        "none: no geoid was applied",
        TYPED,
    )
    assert question.default == ""  # nothing is marked: Enter leaves it blank
    digest = read_fixity(grids / GRID, NoProgress()).sha256
    assert result.values["run.geoid_file"] == KnownValue(digest, where=GRID)
    assert result.values["run.geoid_name"].value == "demo-geoid-A"
    assert result.values["run.geoid_version"].value == "1"
    assert ask.texts("run.geoid_version") == ask.texts("run.geoid_file") == []


def test_a_version_that_nobody_confirmed_proves_nothing(grids: Path, make_tile: MakeTile) -> None:
    """What job.toml only took over from another job stays unconfirmed in the run."""
    specify(grids, 'carried = ["coordinates.geoid"]')
    make_tile("out/tile.las")
    _, result = choose(grids, "demo-geoid-A")
    assert not result.values["run.geoid_version"].can_prove
    assert not result.values["run.geoid_name"].can_prove


def test_a_grid_that_is_not_the_one_asked_for_gets_no_version(
    grids: Path, make_tile: MakeTile
) -> None:
    """The version in job.toml is that of its own grid: the other one is asked for its version."""
    specify(grids)
    make_tile("out/tile.las")
    ask, result = choose(grids, "demo-geoid-B")
    assert result.values["run.geoid_name"] == KnownValue("demo-geoid-B")
    assert "run.geoid_version" not in result.values
    assert len(ask.texts("run.geoid_version")) == 1


def test_a_version_that_was_typed_once_is_not_asked_again(grids: Path, make_tile: MakeTile) -> None:
    """What an earlier run said of the same bytes goes with the grid from then on."""
    make_tile("out/1/tile.las")
    record(
        grids, Scripted(), geoid_name="Model 18", geoid_version="b", geoid_file=str(grids / GRID)
    )
    make_tile("out/2/tile.las", minutes=1)
    _, result = choose(grids, f"Model 18, version b; {GRID}")
    assert result.values["run.geoid_version"] == KnownValue("b", known_by=KnownBy.CARRIED)
    assert result.values["run.geoid_name"].value == "Model 18"


def test_other_bytes_at_the_place_of_a_grid_are_said(grids: Path, make_tile: MakeTile) -> None:
    """A grid that was exchanged keeps no version, and its own digest is what is recorded."""
    specify(grids)
    make_tile("out/tile.las")
    ask, result = choose(grids, "none")
    assert result.values["run.geoid_name"] == KnownValue("none")
    make_tile("out/2/tile.las", minutes=1)

    class Exchanged(Scripted):
        def answer(self, question):
            if question.key != "run.geoid_name":
                return super().answer(question)
            (grids / GRID).write_bytes((grids / "geoid/demo-geoid-B.tif").read_bytes())
            return question.choices[0]

    ask = Exchanged()
    # Heights of another kind than last time: the geoid is asked.
    result = record(grids, ask, output_height_type="orthometric", input_height_type="ellipsoidal")
    if "run.geoid_file" not in result.values:
        pytest.fail(f"the geoid was not asked: {[each.key for each in ask.asked]}")
    digest = read_fixity(grids / "geoid/demo-geoid-B.tif", NoProgress()).sha256
    assert result.values["run.geoid_file"].value == digest
    assert "run.geoid_version" not in result.values
    assert "Another file than the registered one lies there now." in ask.told


def test_another_geoid_may_be_typed(grids: Path, make_tile: MakeTile) -> None:
    """Beside the grids there is always an answer that none of them is."""
    make_tile("out/tile.las")
    ask = Scripted({"run.geoid_name": [TYPED, "Somebody's geoid"]})
    result = record(grids, ask)
    assert result.values["run.geoid_name"] == KnownValue("Somebody's geoid")


def test_without_a_registered_grid_the_question_is_plain(job: Path, make_tile: MakeTile) -> None:
    """Nothing to choose from is no list with one way out."""
    make_tile("out/tile.las")
    ask = Scripted({"run.geoid_name": "none"})
    record(job, ask)
    (question,) = (each for each in ask.asked if each.key == "run.geoid_name")
    assert question.choices == ()


@pytest.mark.parametrize("content", ["coordinates = 3", "[coordinates]\ngeoid = 1", "= broken"])
def test_a_broken_specification_offers_grids_all_the_same(
    grids: Path, make_tile: MakeTile, content: str
) -> None:
    """A slip in job.toml keeps nobody from recording a run."""
    (grids / "job.toml").write_text(content, encoding="utf-8")
    make_tile("out/tile.las")
    _, result = choose(grids, "demo-geoid-A")
    assert result.values["run.geoid_file"].where == GRID
