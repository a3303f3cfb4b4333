"""Hundreds of findings of one kind on one screen: one stands for all, with one thing to do."""

from __future__ import annotations

from dataclasses import replace

import pytest
from audit_results import DIGEST, make_result
from printed import hold_golden, print_screen

from ledger.model.artefact import FileRecord, Output
from ledger.model.finding import Finding, Grade, Outcome
from ledger.model.known import KnownBy, KnownValue
from ledger.model.nextstep import NextStep
from ledger.model.process import Input
from ledger.record.result import RecordResult
from ledger.report.audit import make_screen
from ledger.report.record import make_screen as make_record_screen


def make_orphan(path: str, command: str) -> Finding:
    """Return the finding of a file that no process made."""
    return Finding(
        "custody-of-points",
        Outcome.NONCONFORMING,
        path,
        f"No recorded run or step made {path} (demo-proc 4.1.0, made 2026-05-14, scale 0.001).",
        grade=Grade.MINOR,
        observed="no recorded run or step",
        required="accepted runs and steps all the way back to the capture",
        criterion_source="common practice, no source",
        remedy=f"Record what made them ({command})",
        catalogue=("RH-03",),
    )


NORTH = tuple(
    make_orphan(f"north/tile_{number:03d}.las", "swathbook record deliver/north")
    for number in range(300)
)
SOUTH = tuple(
    make_orphan(f"south/{name}.las", "swathbook record deliver/south/a.las deliver/south/b.las")
    for name in ("a", "b")
)
CARRIED = Finding(
    "lever-arm-chain",
    Outcome.INCONCLUSIVE,
    "R1",
    "R1 used the measured lever arm, 0.12 -0.03 0.25 m. But rig.lever_arm_aircraft of G1 is "
    "carried and not confirmed.",
    remedy="Look it up (swathbook record rig G1)",
)


def test_three_hundred_orphans_read_as_two_groups(request: pytest.FixtureRequest) -> None:
    """Each folder is one block with one command; what is left open says its command too."""
    hold_golden(
        "audit-many", print_screen(make_screen(make_result(*NORTH, *SOUTH, CARRIED))), request
    )


def test_one_of_many_is_shown_and_the_rest_counted() -> None:
    """A group of 300 takes few lines; a group of two shows both."""
    shown = print_screen(make_screen(make_result(*NORTH, *SOUTH)))
    assert shown.count("No recorded run or step made") == 3
    assert "The same for 299 more: north/tile_001.las" in shown
    assert shown.count("swathbook record deliver/north") == 1
    assert len(shown.splitlines()) < 40


def test_all_of_them_are_shown_when_asked_for() -> None:
    """--all leaves none out."""
    shown = print_screen(make_screen(make_result(*NORTH), everything=True))
    assert all(f"made {each.subject} " in " ".join(shown.split()) for each in NORTH)


def test_three_of_a_kind_that_differ_in_words_are_shown() -> None:
    """Findings that say different things are not hidden behind one of them."""
    lines = tuple(
        replace(each, sentence=f"{each.subject} is {number} m off.")
        for number, each in enumerate(NORTH[:9])
    )
    shown = print_screen(make_screen(make_result(*lines)))
    assert shown.count(" m off.") == 3
    assert "The same for 6 more" in shown


def test_a_step_is_read_back_in_one_glance(request: pytest.FixtureRequest) -> None:
    """What went in by its run, points in and out, what was typed and what was read."""
    outputs = tuple(
        Output(FileRecord(f"out/S1/tile_{number}.laz", DIGEST, 1, 0, "points"), points=1_000)
        for number in range(3)
    )
    inputs = tuple(Input(sha256=f"{n}" * 64, path=f"out/R1/{n}.laz", role="points") for n in "abc")
    result = RecordResult(
        entry=14,
        id="S1",
        kind="step",
        values={
            "step.kind": KnownValue("cleaning"),
            "step.software": KnownValue("demo-clean", known_by=KnownBy.READ),
            "step.removed": KnownValue("noise, 123 points"),
        },
        inputs=inputs,
        makers={used.sha256: ("R1",) for used in inputs},
        outputs=outputs,
        decision="accepted",
        points_in=3_123,
        step=NextStep("swathbook audit deliver"),
    )
    hold_golden("record-step", print_screen(make_record_screen(result), 80), request)
