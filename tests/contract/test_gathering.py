"""What a crew reads is what one process reads, whatever becomes of its workers."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterable
from contextlib import AbstractContextManager
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from made_workers import Counts, Raises, Shuffled, Unsendable, enable
from numpy.typing import NDArray

from ledger import supply
from ledger.audit.delivery import read_delivery
from ledger.audit.folder import list_folder
from ledger.contract import pieces
from ledger.contract.check import Check, PointCheck
from ledger.contract.crew import Ended
from ledger.contract.evidence import DeliveredFile, Evidence
from ledger.contract.guard import Guard
from ledger.contract.passing import PassResult
from ledger.contract.pieces import Piece, deal_out
from ledger.contract.registry import build_registry
from ledger.contract.runner import Runner
from ledger.lasheader import read_las_header
from ledger.lattice import choose_common_lattice
from ledger.model.ask import NoProgress
from ledger.model.audit import WHOLE_DELIVERY
from ledger.model.finding import Finding, Outcome
from ledger.model.specification import Specification
from ledger.points import read_points
from ledger.testing import Layout, Scene, SurveyBuilder, find_difference

REAL = Path(__file__).parents[1] / "real"
TINY = Scene(columns=3, rows=2, tile_size=20.0, density=2.0)


class Watch(NoProgress):
    """Counts points and keeps what was said."""

    def __init__(self) -> None:
        """Start at nothing."""
        self.points = 0
        self.said: list[str] = []

    def advance(self, amount: int) -> None:
        """Count."""
        self.points += amount

    def notice(self, sentence: str) -> None:
        """Keep."""
        self.said.append(sentence)


class Delivery:
    """A folder as an audit sees it before any point is read."""

    def __init__(self, folder: Path) -> None:
        """Read headers."""
        files = read_delivery(list_folder(folder), {}, NoProgress())
        self.paths = {each.file.path: each.found.path for each in files}
        lattice = choose_common_lattice(each.file.header for each in files if each.file.header)
        listed = tuple(each.file for each in files)
        self.evidence = Evidence("out", Specification(), listed, lattice)

    def read(
        self, checks: Iterable[Check], hire: Any = None, progress: Watch | None = None
    ) -> tuple[Runner, dict[str, PassResult], Guard]:
        """Read the points, with a crew or without."""
        guard = Guard()
        runner = Runner([enable(each) for each in checks], guard)
        evidence = replace(self.evidence)
        runner.judge_records(evidence)
        readings = runner.read_points(evidence, self.paths, progress or Watch(), hire)
        return runner, readings, guard

    def judge(self, checks: Iterable[Check], hire: Any = None) -> tuple[Any, ...]:
        """Return findings, readings, what was printed, and what was lost."""
        runner, readings, guard = self.read(checks, hire)
        return runner.judge_all(self.evidence), readings, guard.heard, runner.lost


def hire(*parts: int) -> Callable[[Any], AbstractContextManager[Any]]:
    """Return who brings together a crew of the test."""
    return lambda kit: Shuffled(kit, *parts)


@pytest.fixture(scope="module")
def survey(tmp_path_factory: pytest.TempPathFactory) -> Delivery:
    """Return six tiles, one of them cut and one damaged."""
    made = SurveyBuilder(tmp_path_factory.mktemp("survey") / "out", Layout(), TINY)
    made.cut_share(1, 0.5).corrupt_laz(3)
    return Delivery(made.folder)


@pytest.fixture(scope="module")
def many(tmp_path_factory: pytest.TempPathFactory) -> Delivery:
    """Return real files of many makers, sound and broken, and a tile of several decoder chunks."""
    folder = tmp_path_factory.mktemp("many") / "out"
    SurveyBuilder(folder, scene=Scene(columns=1, tile_size=100.0, density=9.0))
    for path in sorted(REAL.iterdir()):
        if path.suffix in {".las", ".laz"}:
            shutil.copy(path, folder)
    return Delivery(folder)


def list_point_checks() -> list[Check]:
    """Return every check of ours that reads points and needs no criterion from a customer."""
    return [
        each.check
        for each in build_registry().checks
        if isinstance(each.check, PointCheck)
        and not any(field.is_required() for field in each.check.criteria.model_fields.values())
    ]


def take_states(runner: Runner) -> dict[str, Any]:
    """Return what each check would be given, and how it stands."""
    return {
        name: (dict(state.summaries), list(state.summaries), state.gaps, state.errored)
        for name, state in runner._states.items()
    }


def test_any_cut_order_and_loss_gives_what_one_process_gives(many, monkeypatch) -> None:
    """Real files whole and in spans, read in any order, some twice: to the last digit the same."""
    checks = list_point_checks()
    alone, readings, _ = many.read(checks)
    for name in ("LEAST_POINTS", "MOST_POINTS"):
        monkeypatch.setattr(pieces, name, 300)
    monkeypatch.setattr(supply, "_PLAIN_CHUNK", 350)
    watch = Watch()
    runner, shared, _ = many.read(checks, hire(1, 3), watch)
    assert runner.lost == {}
    assert len(watch.said) == 3
    assert list(shared) == list(readings)
    assert find_difference(readings, shared) == ""
    assert find_difference(take_states(alone), take_states(runner)) == ""
    cut = [task for task in deal_out(list_pieces(many), 3) if task.pieces[0].span]
    assert len({piece.file.path for task in cut for piece in task.pieces}) > 3


def list_pieces(delivery: Delivery) -> list[Piece]:
    """Return the readable files of a delivery, each whole."""
    return [
        Piece(file, file.header, delivery.paths[file.path])
        for file in delivery.evidence.files
        if file.header is not None
    ]


def test_spans_add_up_to_the_file(many, monkeypatch) -> None:
    """Points read in spans are those read in one go, in order; LAS and LAZ."""
    monkeypatch.setattr(supply, "_PLAIN_CHUNK", 400)
    for name in ("tile_0_0.laz", "1.2-with-color.las"):
        (piece,) = [each for each in list_pieces(many) if each.file.path == name]
        starts = supply.find_cuts(piece.path, piece.header, 3)
        assert len(starts) in {2, 3}, name
        stops = (*starts[1:], piece.points)
        spans = [read_columns(piece, many, span) for span in zip(starts, stops, strict=True)]
        assert np.array_equal(np.concatenate(spans, axis=1), read_columns(piece, many)), name


def read_columns(
    piece: Piece, delivery: Delivery, span: tuple[int, int] | None = None
) -> NDArray[np.int64]:
    """Return x, y, z and intensity of points, in file order."""
    lattice = delivery.evidence.lattice
    chunks = read_points(piece.path, piece.header, lattice, frozenset({"intensity"}), span=span)
    columns = [np.stack((each.x, each.y, each.z, each["intensity"])) for each in chunks]
    return np.concatenate(columns, axis=1)


def test_chunks_of_varying_size_are_not_cut(many) -> None:
    """The decoder finds its place in them only at their beginnings (measured: lazrs 0.8.2)."""
    for name in ("1.2-with-color.copc.laz", "autzen.copc.laz"):
        (piece,) = [each for each in list_pieces(many) if each.file.path == name]
        assert supply.find_cuts(piece.path, piece.header, 3) == (0,)


def test_a_file_that_cannot_be_read_is_not_cut(survey) -> None:
    """Only reading it whole tells what is wrong with it."""
    by_name = {each.file.path: each for each in list_pieces(survey)}
    assert supply.find_cuts(by_name["tile_0_1.laz"].path, by_name["tile_0_1.laz"].header, 4) == (0,)


@settings(max_examples=60, deadline=None)
@given(
    counts=st.lists(st.integers(0, 40_000_000), max_size=40),
    workers=st.integers(1, 300),
)
def test_every_point_is_dealt_out_once(counts, workers) -> None:
    """Tasks hold the files in order, each point once, and none is larger than it has to be."""
    header = read_las_header(REAL / "1.2-with-color.las")
    files = [
        Piece(
            DeliveredFile(f"{i}", "", 0, "points"), replace(header, point_count=count), Path("no")
        )
        for i, count in enumerate(counts)
    ]
    tasks = deal_out(files, workers)
    assert [piece for task in tasks for piece in task.pieces] == files
    share = max(sum(counts) // workers // 4, pieces.LEAST_POINTS)
    assert all(
        task.points <= min(share, pieces.MOST_POINTS) or len(task.pieces) == 1 for task in tasks
    )


# Workers that end, and checks that break elsewhere.


def test_a_file_that_fails_twice_is_lost_and_no_pass(survey) -> None:
    """It has no reading and no summary; checks of points say so, the others are judged."""
    findings, readings, _, lost = survey.judge([Counts()], hire(1, 100))
    assert set(lost) == {each.file.path for each in list_pieces(survey)}
    assert all(why.startswith("twice ") for why in lost.values())
    assert readings == {}
    assert all(finding.outcome is Outcome.NOT_ASSESSED for finding in findings)


def test_where_nobody_is_left_to_work_no_file_is_said_to_have_failed_twice(
    survey, monkeypatch
) -> None:
    """A cluster whose scheduler is gone: every file is lost, with that reason and no other."""
    monkeypatch.setattr(Shuffled, "wait", lambda _: iter((Ended("everybody left"),)))
    findings, readings, _, lost = survey.judge([Counts()], hire(1))
    assert lost == dict.fromkeys((each.file.path for each in list_pieces(survey)), "everybody left")
    assert readings == {}
    assert all(finding.outcome is Outcome.NOT_ASSESSED for finding in findings)


def test_what_is_lost_once_is_read_again(survey) -> None:
    """Every task fails once; nothing is lost, and progress ends where it would have."""
    alone = survey.judge([Counts()])
    assert survey.judge([Counts()], hire(1, 1)) == alone
    watch = Watch()
    survey.read([Counts()], hire(1, 1), watch)
    assert watch.points == 6  # a point for each of the single files, none for the lost task


def test_the_first_file_that_breaks_a_check_is_told_whoever_reads_it(survey) -> None:
    """A check that raises at two files is errored with the first, whatever was read first."""
    checks = [Counts(), Raises("tile_1_0.laz", "tile_2_1.laz")]
    alone = survey.judge(checks)
    assert any("not tile_1_0.laz" in finding.sentence for finding in alone[0])
    for seed in range(3):
        findings, readings, heard, lost = survey.judge(checks, hire(seed))
        assert (findings, readings, lost) == (alone[0], alone[1], {})
        assert [each.first for each in heard.values()] == [each.first for each in alone[2].values()]


@pytest.mark.parametrize("opens", [True, False])
def test_a_summary_that_cannot_travel_is_an_errored_check(survey, opens) -> None:
    """It breaks where it is packed or where it is opened; the other checks go on."""
    findings, _, _, lost = survey.judge([Counts(), Unsendable(opens=opens)], hire(1))
    assert lost == {}
    (broken,) = [each for each in findings if each.outcome is Outcome.ERRORED]
    assert broken.check == "unsendable"
    assert "sending" in broken.sentence
    assert [f.subject for f in list_passes(findings)] == [WHOLE_DELIVERY]


def list_passes(findings: Iterable[Finding]) -> list[Finding]:
    """Return those that conform."""
    return [finding for finding in findings if finding.outcome is Outcome.CONFORMS]
