"""The rule of descent, on books made entry by entry."""

from __future__ import annotations

import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from imports import list_imports
from made_book import MadeBook, make_fingerprint

from ledger.lineage import Ancestry, find_custody
from ledger.model.artefact import FingerprintValue
from ledger.model.lineage import Custody, CustodyState, MatchedBy

HEAVY = ("numpy", "laspy", "pyproj", "pydantic", "scipy", "lidar_checks", "rich")


@pytest.fixture
def book(tmp_path: Path) -> Iterator[MadeBook]:
    """Give a book in which nothing is entered."""
    made = MadeBook(tmp_path)
    yield made
    made.close()


def find(
    book: MadeBook, path: str, fingerprint: FingerprintValue | None = None, *, traced: bool = True
) -> Custody:
    """Return the custody of a file that is there."""
    return find_custody(book.writer, book.see(path).sha256, fingerprint, traced)


def ids(custody: Custody) -> list[list[str]]:
    """Return the ids of every line."""
    return [[process.id for process in line.processes] for line in custody.lines]


def test_a_tile_of_an_accepted_run_is_accepted(book: MadeBook) -> None:
    """A file whose bytes an accepted run made conforms, under any name."""
    book.write("out/tile_14.las", "R1")
    book.run("out/tile_14.las")
    book.write("deliver/renamed.las", "R1")
    custody = find(book, "deliver/renamed.las")
    assert (custody.state, custody.matched_by) == (CustodyState.ACCEPTED, MatchedBy.DIGEST)
    assert custody.recorded_path == "out/tile_14.las"
    assert ids(custody) == [["R1"]]
    assert custody.culprit is None


def test_a_tile_of_a_rejected_run_is_stale(book: MadeBook) -> None:
    """A file that only a rejected run made is stale, and the run is named with day and reason."""
    book.write("out/tile_14.las", "R1")
    book.run("out/tile_14.las", decision="undecided")
    book.decide("R1", "rejected", "heights are ellipsoidal")
    custody = find(book, "out/tile_14.las")
    assert custody.state is CustodyState.STALE
    assert custody.culprit is not None
    assert (custody.culprit.id, custody.culprit.reason) == ("R1", "heights are ellipsoidal")
    assert custody.culprit.decision_time == "2026-05-14T09:00:00Z"


def test_superseded_counts_as_rejected(book: MadeBook) -> None:
    """A superseded run makes its files stale."""
    book.write("out/a.las", "R1")
    book.run("out/a.las")
    book.decide("R1", "superseded", "reflown")
    assert find(book, "out/a.las").state is CustodyState.STALE


def test_a_decision_can_be_taken_back(book: MadeBook) -> None:
    """The latest decision on a run counts."""
    book.write("out/a.las", "R1")
    book.run("out/a.las", decision="rejected")
    book.decide("R1", "accepted", "it was the checkpoint")
    assert find(book, "out/a.las").state is CustodyState.ACCEPTED


def test_a_tile_that_two_runs_made_identically_needs_one_good_run(book: MadeBook) -> None:
    """Of two runs that made the same bytes the accepted one counts, and both lines are known."""
    book.write("out/a.las", "same")
    book.run("out/a.las", decision="rejected")
    book.run("out/a.las", decision="accepted")
    custody = find(book, "out/a.las")
    assert custody.state is CustodyState.ACCEPTED
    assert ids(custody) == [["R2"], ["R1"]]
    assert custody.maker is not None
    assert custody.maker.id == "R2"


def test_a_step_after_a_rejected_run_is_stale(book: MadeBook) -> None:
    """An accepted step on files of a rejected run is stale, and the run is named, not the step."""
    book.write("out/a.las", "R1")
    book.run("out/a.las", decision="rejected")
    book.write("out/clean.las", "S1")
    book.step("out/clean.las", inputs=[book.use("out/a.las")])
    custody = find(book, "out/clean.las")
    assert custody.state is CustodyState.STALE
    assert ids(custody) == [["S1", "R1"]]
    assert custody.culprit is not None
    assert custody.culprit.id == "R1"


def test_a_merge_of_two_accepted_flights_is_accepted(book: MadeBook) -> None:
    """A merge has one line that holds the runs of both flights."""
    book.write("out/a.las", "R1")
    book.write("out/b.las", "R2")
    book.run("out/a.las", inputs=[{"flight": "F1"}])
    book.run("out/b.las", inputs=[{"flight": "F2"}])
    book.write("out/merged.las", "S1")
    book.step("out/merged.las", inputs=[book.use("out/a.las"), book.use("out/b.las")])
    custody = find(book, "out/merged.las")
    assert custody.state is CustodyState.ACCEPTED
    assert ids(custody) == [["S1", "R1", "R2"]]


def test_a_merge_with_one_rejected_flight_is_stale(book: MadeBook) -> None:
    """One good flight in a merge does not make up for a rejected one: its points are in there."""
    book.write("out/a.las", "R1")
    book.write("out/b.las", "R2")
    book.run("out/a.las", decision="rejected")
    book.run("out/b.las")
    book.write("out/merged.las", "S1")
    book.step("out/merged.las", inputs=[book.use("out/a.las"), book.use("out/b.las")])
    custody = find(book, "out/merged.las")
    assert custody.state is CustodyState.STALE
    assert custody.culprit is not None
    assert custody.culprit.id == "R1"


def test_an_undecided_run_leaves_its_files_undecided(book: MadeBook) -> None:
    """Nobody's decision is neither acceptance nor rejection; the undecided run is named."""
    book.write("out/a.las", "R1")
    book.run("out/a.las", decision="undecided")
    book.write("out/clean.las", "S1")
    book.step("out/clean.las", inputs=[book.use("out/a.las")])
    custody = find(book, "out/clean.las")
    assert custody.state is CustodyState.UNDECIDED
    assert custody.culprit is not None
    assert custody.culprit.id == "R1"


def test_a_file_that_no_process_made_is_an_orphan(book: MadeBook) -> None:
    """A point file without a process is an orphan; a document is only not traced."""
    book.write("out/a.las", "nobody")
    book.write("out/report.pdf", "text")
    assert find(book, "out/a.las") == Custody(CustodyState.ORPHAN, MatchedBy.NOTHING)
    assert find(book, "out/report.pdf", traced=False).state is CustodyState.NOT_TRACED


def test_an_edited_header_is_matched_by_points(book: MadeBook) -> None:
    """Other bytes with the same full fingerprint are matched by it, and that is said."""
    book.write("out/a.las", "R1")
    book.run(book.output("out/a.las", make_fingerprint("p", "f")))
    book.write("out/edited.las", "R1 with another header")
    custody = find(book, "out/edited.las", make_fingerprint("p", "f"))
    assert (custody.state, custody.matched_by) == (CustodyState.ACCEPTED, MatchedBy.POINTS)


def test_changed_fields_are_matched_by_coordinates_alone(book: MadeBook) -> None:
    """The same coordinates with other fields are matched by geometry, the weakest match."""
    book.write("out/a.las", "R1")
    book.run(book.output("out/a.las", make_fingerprint("p", "f")))
    book.write("out/classified.las", "classes")
    custody = find(book, "out/classified.las", make_fingerprint("p", "other classes"))
    assert (custody.state, custody.matched_by) == (CustodyState.ACCEPTED, MatchedBy.GEOMETRY)


def test_other_points_match_nothing(book: MadeBook) -> None:
    """A fingerprint of other points, another count or another method matches nothing."""
    book.write("out/a.las", "R1")
    book.run(book.output("out/a.las", make_fingerprint("p", "f")))
    book.write("out/b.las", "else")
    same = make_fingerprint("p", "f")
    other_method = FingerprintValue("test-2", same.count, same.geometry, same.pulse, same.full)
    for value in (make_fingerprint("q", "f"), make_fingerprint("p", "f", count=4), other_method):
        assert find(book, "out/b.las", value).state is CustodyState.ORPHAN


def test_empty_files_do_not_match_each_other(book: MadeBook) -> None:
    """Two files without points have the same fingerprint, which says nothing of their origin."""
    nothing = make_fingerprint("", "", count=0)
    book.write("out/a.las", "empty tile of R1")
    book.run(book.output("out/a.las", nothing))
    book.write("out/b.las", "another empty tile")
    assert find(book, "out/b.las", nothing).state is CustodyState.ORPHAN


def test_points_of_an_accepted_run_outweigh_bytes_of_a_rejected_one(book: MadeBook) -> None:
    """Two runs that made the same points on different days differ in the header alone."""
    points = make_fingerprint("p", "f")
    book.write("out/R1/a.las", "header of day 1")
    book.write("out/R2/a.las", "header of day 2")
    book.run(book.output("out/R1/a.las", points), decision="rejected")
    book.run(book.output("out/R2/a.las", points), decision="accepted")
    custody = find(book, "out/R1/a.las")  # its fingerprint is taken from the book
    assert (custody.state, custody.matched_by) == (CustodyState.ACCEPTED, MatchedBy.POINTS)
    assert custody.recorded_path == "out/R2/a.las"


def test_coordinates_of_an_accepted_run_do_not_outweigh_bytes_of_a_rejected_one(
    book: MadeBook,
) -> None:
    """Where the bytes are those of a rejected run, equal coordinates elsewhere change nothing."""
    book.write("out/R1/a.las", "R1")
    book.write("out/R2/a.las", "R2")
    book.run(
        book.output("out/R1/a.las", make_fingerprint("p", "wrong classes")), decision="rejected"
    )
    book.run(book.output("out/R2/a.las", make_fingerprint("p", "classes")))
    custody = find(book, "out/R1/a.las")
    assert (custody.state, custody.matched_by) == (CustodyState.STALE, MatchedBy.DIGEST)


def test_a_step_that_changed_nothing_does_not_launder_a_rejected_run(book: MadeBook) -> None:
    """Two accepted steps that left a tile as it was do not make its rejected run good."""
    book.write("out/a.las", "R1")
    book.run("out/a.las", decision="rejected")
    book.step("out/a.las", inputs=[book.use("out/a.las")])
    book.step("out/a.las", inputs=[book.use("out/a.las")])
    custody = find(book, "out/a.las")
    assert custody.state is CustodyState.STALE
    assert custody.culprit is not None
    assert custody.culprit.id == "R1"


@pytest.mark.parametrize("rejected", ["S1", "S2"])
def test_a_circle_without_a_run_is_as_good_as_its_worst_step(book: MadeBook, rejected: str) -> None:
    """Steps that only ever made each other's inputs are all stale when one was rejected."""
    book.write("out/a.las", "A")
    book.write("out/b.las", "B")
    book.step("out/b.las", inputs=[book.use("out/a.las")])
    book.step("out/a.las", inputs=[book.use("out/b.las")])
    assert find(book, "out/a.las").state is CustodyState.ACCEPTED
    book.decide(rejected, "rejected")
    assert find(book, "out/a.las").state is CustodyState.STALE
    assert find(book, "out/b.las").state is CustodyState.STALE


def test_a_step_after_a_circle_waits_for_it(book: MadeBook) -> None:
    """A step recorded before a rejected one that left its file as it was is stale all the same."""
    book.write("out/a.las", "A")
    book.write("out/b.las", "B")
    book.step("out/b.las", inputs=[book.use("out/a.las")])
    book.step("out/a.las", inputs=[book.use("out/a.las")], decision="rejected")
    assert find(book, "out/b.las").state is CustodyState.STALE
    book.write("out/c.las", "C")
    book.step("out/a.las", inputs=[book.use("out/c.las")], decision="rejected")
    book.step("out/c.las", inputs=[book.use("out/a.las")])
    custody = find(book, "out/b.las")
    assert custody.state is CustodyState.STALE
    assert custody.culprit is not None
    assert custody.culprit.id in ("S2", "S3")


def test_a_long_descent_needs_no_deep_stack(book: MadeBook) -> None:
    """Three hundred steps in a row are followed to their rejected run, recorded last of all."""
    book.write("out/0.las", "0")
    for number in range(1, 301):
        book.write(f"out/{number}.las", str(number))
    limit = sys.getrecursionlimit()
    for number in range(1, 301):
        book.step(f"out/{number}.las", inputs=[book.use(f"out/{number - 1}.las")])
    assert find(book, "out/300.las").state is CustodyState.ACCEPTED
    book.run("out/0.las", decision="rejected")
    sys.setrecursionlimit(limit)
    custody = find(book, "out/300.las")
    assert custody.state is CustodyState.STALE
    assert len(custody.lines[0].processes) == 301


def test_ancestors_of_a_delivery_come_in_order_of_entry(book: MadeBook) -> None:
    """All processes behind some processes are listed once each, earliest first."""
    book.write("out/a.las", "R1")
    book.write("out/b.las", "R2")
    book.run("out/a.las")
    book.run("out/b.las")
    book.write("out/m.las", "S1")
    book.step("out/m.las", inputs=[book.use("out/a.las"), book.use("out/b.las")])
    ancestry = Ancestry(book.writer)
    step = book.writer.process("S1")
    assert step is not None
    assert [process.id for process in ancestry.list_ancestors([step])] == ["R1", "R2", "S1"]


@pytest.mark.parametrize("module", ["ledger.lineage", "ledger.trace", "ledger.status"])
def test_looking_up_loads_no_heavy_library(module: str) -> None:
    """Importing what answers from the book loads no heavy library and no plugin."""
    loaded = list_imports(module)
    assert [name for name in HEAVY if name in loaded] == []


def test_rechecking_loads_no_library_of_points_or_models() -> None:
    """Importing the recheck, which writes too, loads nothing that reads points."""
    loaded = list_imports("ledger.recheck")
    assert "sqlite3" in loaded
    assert [name for name in HEAVY if name in loaded] == []


def judge_by_search(
    decisions: list[str], inputs: list[list[int]], outputs: list[list[int]], file: int
) -> str:
    """Return the state of a file by trying every way back, the slow and plain way.

    A way back takes one maker for each input that has any, never one that is on the way already.
    """
    quality = {"rejected": 0, "superseded": 0, "undecided": 1, "accepted": 2}

    def best_of(wanted: int, way: frozenset[int]) -> int | None:
        makers = [m for m in range(len(outputs)) if wanted in outputs[m] and m not in way]
        return max((worst_of(maker, way | {maker}) for maker in makers), default=None)

    def worst_of(process: int, way: frozenset[int]) -> int:
        found = [best_of(wanted, way) for wanted in inputs[process]]
        return min([quality[decisions[process]], *(value for value in found if value is not None)])

    found = best_of(file, frozenset())
    return "orphan" if found is None else ("stale", "undecided", "accepted")[found]


@settings(max_examples=60, deadline=None)
@given(choices=st.data())
def test_the_rule_agrees_with_a_search_of_every_way_back(choices: st.DataObject) -> None:
    """On any records without circles, the state is the one that trying every way back gives."""
    count = choices.draw(st.integers(1, 6))
    decisions = [
        choices.draw(st.sampled_from(["accepted", "rejected", "undecided"])) for _ in range(count)
    ]
    # Process n uses files below n and makes files from n on, so that no circle closes.
    inputs = [
        choices.draw(st.lists(st.integers(0, number), max_size=3, unique=True))
        for number in range(count)
    ]
    outputs = [
        choices.draw(st.lists(st.integers(number + 1, count), min_size=1, max_size=3, unique=True))
        for number in range(count)
    ]
    with tempfile.TemporaryDirectory() as folder:
        book = MadeBook(Path(folder))
        for file in range(count + 1):
            book.write(f"{file}.las", str(file))
        for number in choices.draw(st.permutations(range(count))):
            book.run(
                *(f"{file}.las" for file in outputs[number]),
                inputs=[book.use(f"{file}.las") for file in inputs[number]],
                decision=decisions[number],
            )
        for file in range(count + 1):
            expected = judge_by_search(decisions, inputs, outputs, file)
            assert find(book, f"{file}.las").state == expected
        book.close()
