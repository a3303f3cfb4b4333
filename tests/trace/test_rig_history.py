"""A rig over time, as a trace tells it: its arms with their dates, and its base antennas."""

from __future__ import annotations

from pathlib import Path

import pytest
from job_bench import JobBench
from made_book import MadeBook, known
from printed import print_screen

from ledger.report.trace import make_screen
from ledger.trace import trace


def metres(text: str):
    """Return a length."""
    return known(text, "m")


@pytest.fixture
def job(tmp_path: Path) -> MadeBook:
    """Give a rig that got another bracket, and an arm of its own later; and three flights."""
    book = MadeBook(tmp_path / "job")
    book.card(
        "rig",
        "G1",
        {
            "rig.scanner_serial": known("SU-07"),
            "rig.bracket": known("B-1"),
            "rig.lever_arm_aircraft": known(["0.112", "0.004", "0.231"], "m"),
            "rig.lever_arm_measured": known("2026-04-02"),
        },
    )
    book.card("rig", "G1", {"rig.bracket": known("B-2")})
    measured = {
        "rig.lever_arm_aircraft": known(["0.112", "0.004", "0.301"], "m"),
        "rig.lever_arm_measured": known("2026-06-01"),
    }
    book.card("rig", "G1", measured)
    flights = {"F1": "2026-05-01", "F2": "2026-06-02", "F3": "2026-05-20"}
    for number, (name, day) in enumerate(flights.items()):
        again = {"flight.base_height_again": metres("1.530")} if number == 1 else {}
        values = {
            "flight.rig": known("G1"),
            "flight.takeoff": known(f"{day}T09:00:00Z"),
            "flight.base_height": metres(f"1.52{number}"),
            "flight.base_height_kind": known("vertical"),
        }
        book.card("flight", name, {**values, **again})
    book.close()
    return book


def show(job: MadeBook, target: str) -> str:
    """Return a screen in one line."""
    result = trace(job.folder, target)
    return " ".join(print_screen(make_screen(result), 240).split())


def test_a_rig_tells_how_its_arm_changed(job):
    """Each state with the day from which it holds, its entry, and what was not measured anew."""
    shown = show(job, "G1")
    assert "at first: 0.112 0.004 0.231 m from aircraft antenna, measured 2026-04-02" in shown
    assert "since 2026-05-14:" in shown  # the day of the entry: nobody measured
    assert "another bracket, and the lever arm as before" in shown
    assert "since 2026-06-01: 0.112 0.004 0.301 m from aircraft antenna" in shown
    assert shown.index("at first") < shown.index("2026-05-14:") < shown.index("since 2026-06-01")


def test_a_rig_tells_its_base_antennas_flight_by_flight(job):
    """In the order of take-off, with readings that are apart."""
    shown = show(job, "G1")
    first, third, second = (shown.index(f"{day}") for day in (
        "2026-05-01 F1: 1.520 m vertical",
        "2026-05-20 F3: 1.522 m vertical",
        "2026-06-02 F2: 1.521 m and 1.530 m vertical; 9 mm apart",
    ))  # fmt: skip
    assert first < third < second


def test_a_flight_is_told_with_the_arm_that_it_was_flown_with(job):
    """The rig was altered afterwards, and that is said."""
    before, after = show(job, "F1"), show(job, "F2")
    assert "0.112 0.004 0.231 m from aircraft antenna" in before
    assert "0.301" not in before
    assert "G1 is told as it was flown; since 2026-05-14 it is another" in before
    assert "0.112 0.004 0.301 m from aircraft antenna" in after
    assert "it is another" not in after


def test_the_json_holds_states_and_setups(bench: JobBench):
    """Numbers are numbers, and what cannot be computed is null."""
    bench.ask("record", "rig", "--set", "bracket=B-1", "--set", "scanner_serial=SU-07")
    bench.ask("record", "rig", "G1", "--set", "bracket=B-2")
    slant = ["--set", "base_height=1.3", "--set", "base_height_kind=slant"]
    bench.ask("record", "flight", "--set", "rig=G1", *slant)
    antenna = ["--set", "base_antenna_radius=0.5", "--set", "base_antenna_offset=-0.05"]
    bench.ask("record", "flight", "F2", "--set", "rig=G1", *slant, *antenna)
    (node,) = bench.ask("trace", "G1")["chain"]
    assert [state["changed"] for state in node["states"]] == [[], ["rig.bracket"]]
    assert [state["values"]["rig.bracket"]["value"] for state in node["states"]] == ["B-1", "B-2"]
    assert [
        (setup["flight"], setup["readings_m"], setup["kind"], setup["vertical_m"])
        for setup in node["setups"]
    ] == [("F1", [1.3], "slant", None), ("F2", [1.3], "slant", 1.15)]


def test_an_amended_arm_was_never_another_one(bench: JobBench):
    """A value that was written down wrongly is no alteration of the rig."""
    arm = "lever_arm_aircraft=0.112 0.004 0.231"
    bench.ask("record", "rig", "--set", "bracket=B-1", "--set", "lever_arm_aircraft=9 9 9")
    bench.ask("amend", "G1", "--set", arm, "--reason", "mistyped")
    (node,) = bench.ask("trace", "G1")["chain"]
    (state,) = node["states"]
    assert state["values"]["rig.lever_arm_aircraft"]["value"] == [0.112, 0.004, 0.231]
