"""Points in, points out, points removed for a reason: nothing is left over."""

from __future__ import annotations

from typing import Any

import pytest
from made_raw import grade, judge, make_job

from ledger.contract.check import Grade, Outcome
from ledger.model.artefact import FileRecord, Output
from ledger.model.known import KnownBy, KnownValue
from ledger.model.lineage import Custody, CustodyState, MatchedBy
from ledger.model.process import Decision, Input, Process
from ledger.testing import make_file
from lidar_checks.lineage.point_balance import PointBalance
from lidar_checks.lineage.removed import read_removed


def make_process(
    name: str, outputs: dict[str, int | None], inputs: tuple[Input, ...], **values: Any
) -> Process:
    """Return an accepted run or step; the digest of each output is its path."""
    kind = "run" if name[0] == "R" else "step"
    made = tuple(
        Output(FileRecord(path, path, 1, 1, "points"), points=count)
        for path, count in outputs.items()
    )
    known = {
        f"{kind}.{key}": value if isinstance(value, KnownValue) else KnownValue(value)
        for key, value in values.items()
    }
    number = int(name[1:])
    state = Decision.ACCEPTED
    return Process(name, kind, "", number, "", "", state, number, "", known, inputs, made)


def use(*paths: str) -> tuple[Input, ...]:
    """Return files as inputs."""
    return tuple(Input(sha256=path, path=path, role="points") for path in paths)


RUN = make_process("R1", {"a": 600, "b": 400}, (Input(flight="F1"),))


def weigh(out: dict[str, int | None], *inputs: str, **values: Any) -> Any:
    """Return the finding about a step on some of the run's files."""
    step = make_process("S1", out, use(*(inputs or ("a", "b"))), **values)
    files = [make_file(path, sha256=path) for path in out]
    evidence = make_job(processes=(RUN, step), files=files)
    return judge(PointBalance(), evidence)["S1"]


@pytest.mark.parametrize(
    ("out", "removed", "expected", "over"),
    [
        (1000, None, Outcome.CONFORMS, 0),
        (999, None, Grade.MINOR, 1),
        (999, "noise 1", Outcome.CONFORMS, 0),
        (900, "noise 80; vehicles 20", Outcome.CONFORMS, 0),
        (900, "noise 80; vehicles 19", Grade.MINOR, 1),
        (900, "noise 80; vehicles 21", Grade.MINOR, -1),
        (1001, None, Grade.MINOR, -1),
    ],
)
def test_every_point_is_accounted_for(
    out: int, removed: str | None, expected: Grade | Outcome, over: int
) -> None:
    """One point too many or too few is one that nobody accounts for."""
    found = weigh({"c": out}, kind="cleaning", **({"removed": removed} if removed else {}))
    assert (grade(found), found.observed) == (expected, str(over))
    if expected is Grade.MINOR:
        assert found.catalogue == ("CL-06",)


def test_a_thinning_has_its_reason_in_its_kind() -> None:
    """Fewer points after thinning are meant; more are not."""
    assert grade(weigh({"c": 500}, kind="thinning")) is Outcome.CONFORMS
    assert grade(weigh({"c": 1001}, kind="thinning")) is Grade.MINOR


def test_only_what_went_in_counts() -> None:
    """A step on one of two tiles has the points of that one."""
    assert grade(weigh({"c": 600}, "a")) is Outcome.CONFORMS


def test_what_was_not_counted_is_no_zero() -> None:
    """Points that nobody counted, words that nobody can add, a guess: all leave it open."""
    assert grade(weigh({"c": None, "d": 5})) is Outcome.INCONCLUSIVE
    unread = weigh({"c": 900}, removed="some noise")
    assert (grade(unread), unread.needs) == (Outcome.INCONCLUSIVE, ("step.removed",))
    guess = KnownValue("noise 100", known_by=KnownBy.ASSUMED, confirmed=False)
    assert grade(weigh({"c": 900}, removed=guess)) is Outcome.INCONCLUSIVE
    assert grade(weigh({"c": 901}, removed=guess)) is Grade.MINOR


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("noise 1200; vehicles 310", {"noise": 1200, "vehicles": 310}),
        ("1,200 noise, 310 vehicles", {"noise": 1200, "vehicles": 310}),
        ("1 200 points: noise", {"noise": 1200}),
        ("noise 5; noise 6", {"noise": 11}),
        ("noise", None),
        ("1200", None),
        ("class 7: 1200", None),
        ("noise 1.5", None),
        ("", None),
    ],
)
def test_numbers_with_reasons(text: str, expected: dict[str, int] | None) -> None:
    """One number and one reason a part; what is not clear is not guessed."""
    assert read_removed(text) == expected


def test_a_forgotten_tile_is_told() -> None:
    """A file of an accepted run that is nowhere is told; one that a patch replaced is not."""
    accepted = Custody(CustodyState.ACCEPTED, MatchedBy.DIGEST, recorded_path="out/a.las")
    run = make_process("R1", {"out/a.las": 6, "out/b.las": 4}, (Input(flight="F1"),))
    sent = make_file("a.las", sha256="out/a.las", custody=accepted)

    def audit(*files: Any) -> dict[str, Any]:
        return judge(PointBalance(), make_job(processes=(run,), files=files))

    found = audit(sent)["R1 left behind"]
    assert (grade(found), found.observed) == (Grade.OBSERVATION, "1")
    assert "out/b.las" in found.sentence
    assert list(audit(sent, make_file("b.las", sha256="x"))) == ["delivery"]


def test_without_runs_nothing_is_said() -> None:
    """No run behind the files, no answer; with runs alone there is nothing to add up."""
    (found,) = judge(PointBalance(), make_job()).values()
    assert (found.outcome, found.needs) == (Outcome.NOT_ASSESSED, ("records",))
