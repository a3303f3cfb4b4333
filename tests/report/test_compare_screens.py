"""Screens of `compare` and `repeat`, held by golden files that somebody has read."""

from __future__ import annotations

from dataclasses import replace

import pytest
from printed import hold_golden, print_screen

from ledger.compare.jobresult import Agreement, JobComparison, Topic
from ledger.compare.setresult import (
    CellDifference,
    Change,
    Grade,
    HeaderDifference,
    Heights,
    OtherFile,
    PointDifference,
    Pulses,
    SetComparison,
    SideFacts,
)
from ledger.compare.setwords import tell
from ledger.model.known import KnownBy, KnownValue
from ledger.model.weight import Weight
from ledger.repeat.result import (
    Item,
    ItemState,
    Readiness,
    RepeatResult,
    Setting,
    Sheet,
    UsedInput,
    WrittenSettings,
)
from ledger.report.comparejobs import make_screen as show_jobs
from ledger.report.comparesets import make_screen as show_sets
from ledger.report.repeat import make_screen as show_repeat

MOVED = SetComparison(
    SideFacts("out/R1", 24, 1_000_000),
    SideFacts("out/R2", 24, 1_000_004),
    Grade.DIFFERENT,
    Change.MOVED,
    "",
    points=PointDifference(
        only_first=120,
        only_second=124,
        altered=3,
        classes={1: (5000, 5004)},
        cell_count=2,
        cells=(
            CellDifference(552031.5, 4272044.5, 7, 11),
            CellDifference(552032.5, 4272044.5, 9, 9),
        ),
        cell_size=1.0,
        heights=Heights(812, 0.0001, 0.004, 9000, 9004),
        pulses=Pulses(4100, 0.0, 0.001, 0.0),
    ),
    others=(OtherFile("run.log", "other bytes"),),
    points_read=True,
)


def test_points_that_moved(request: pytest.FixtureRequest) -> None:
    """How many, where, how far, and what else differs."""
    hold_golden("compare-moved", print_screen(show_sets(tell(MOVED)), 80), request)


def test_points_that_moved_within_their_cell_are_told_in_its_row() -> None:
    """As many before as after; no farther than across the square."""
    cell = CellDifference(552031.5, 4272044.5, 3, 3)
    one = PointDifference(1, 1, 0, cell_count=1, cells=(cell,), cell_size=1.0)
    shown = print_screen(show_sets(tell(replace(MOVED, points=one))), 80)
    assert "3       3  1 moved, at most 1.42 sideways" in shown
    classes = replace(one, only_first=0, only_second=0, altered=1)
    shown = print_screen(show_sets(replace(MOVED, change=Change.CLASSES, points=classes)), 80)
    assert "3       3  other fields" in shown


def test_another_processing(request: pytest.FixtureRequest) -> None:
    """Not equivalent: each reason in a sentence; cells that all differ are not listed."""
    assert MOVED.points is not None
    points = replace(
        MOVED.points,
        only_first=900_000,
        only_second=900_004,
        heights=Heights(812, 31.9222, 31.9758, 9000, 9100),
    )
    found = replace(
        MOVED,
        change=Change.PROCESSING,
        points=points,
        notes=("Heights on stable cells differ by +31.9222 m in the mean (limit 0.005 m).",),
    )
    hold_golden("compare-processing", print_screen(show_sets(tell(found)), 80), request)


def test_another_header(request: pytest.FixtureRequest) -> None:
    """The text of a coordinate system by its name, with what that means."""
    found = replace(
        MOVED,
        grade=Grade.SAME_POINTS,
        change=Change.CRS_TEXT,
        points=None,
        others=(),
        headers=(
            HeaderDifference(
                "CRS text",
                'PROJCS["NAD83 / UTM zone 17N",GEOGCS["NAD83"]]',
                'PROJCS["NAD83 / UTM zone 18N",GEOGCS["NAD83"]]',
                Weight.GEODETIC,
                1,
                "another system: zone: 17N → 18N",
            ),
        ),
    )
    hold_golden("compare-header", print_screen(show_sets(tell(found)), 80), request)


def test_two_jobs(request: pytest.FixtureRequest) -> None:
    """The answer, then what stands against it, then what is alike."""
    found = JobComparison(
        "june",
        "july",
        ("R2",),
        ("R1", "R3"),
        (
            Topic(
                "geoid", "A 1", "B 1", Agreement.APART, "The geoid name of the two is not the same."
            ),
            Topic("epoch", "2010.0", "", Agreement.NOT_KNOWN, "Epoch is not recorded in july."),
            Topic("units", "metre metre", "metre metre", Agreement.ALIKE),
        ),
    )
    hold_golden("compare-jobs", print_screen(show_jobs(found), 80), request)


PLAN = RepeatResult(
    "R1",
    Readiness.B,
    (
        Item("raw data", ItemState.THERE, "3 files, unchanged"),
        Item("geoid", ItemState.NOT_NEEDED, "no geoid was applied"),
        Item("installer", ItemState.RECORD_ONLY, "by name and version alone: p 1", "keep it"),
    ),
    Sheet(
        "R1",
        (
            Setting("run.mount_mode", "Mount mode set in processing", KnownValue("drone")),
            Setting(
                "run.range_max",
                "Longest range kept",
                KnownValue("90", "m", KnownBy.READ, where="R1.json: range.max"),
            ),
        ),
        (WrittenSettings("config/R1.json", "a" * 64, (("range.max", "90"),), ("account.pwd",)),),
        (
            UsedInput("raw/cap_p1.bin", "b" * 64, "capture", is_there=True),
            UsedInput("raw/base.obs", "c" * 64, "base-log", is_there=False),
        ),
        ("Epoch of the output",),
    ),
)


def test_a_run_to_be_done_again_by_hand(request: pytest.FixtureRequest) -> None:
    """The grade, what is missing, every setting, what to give to it, what to type next."""
    hold_golden("repeat", print_screen(show_repeat(PLAN), 80), request)


def test_a_command_that_failed(request: pytest.FixtureRequest) -> None:
    """One line says so; where its files lie is said, too."""
    found = replace(
        PLAN, outcome="failed", entry=12, folder=".swathbook/repeat-R1-1", exit_status=3
    )
    hold_golden("repeat-failed", print_screen(show_repeat(found), 80), request)
