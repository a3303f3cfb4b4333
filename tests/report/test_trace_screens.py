"""What a trace shows fits one laptop screen, 80 columns by 24 lines, and leaves nothing unsaid.

The size is that of the terminal a system opens by default (common practice, no source).
"""

from __future__ import annotations

import hashlib
import re
from pathlib import Path

import pytest
from kept_job import FLIGHT, LINES, RIG, RUN, export, fly, require_one_screen, show_trace
from made_book import MadeBook, known
from printed import hold_golden

from ledger.amend import amend_record
from ledger.canonical import compute_digest, encode
from ledger.report.screen import format_digest
from ledger.trace import trace

# What only heights above a geoid need.
_OF_A_GEOID = ("run.vertical_datum", "run.geoid_version", "run.geoid_file")
ELLIPSOIDAL = {
    **{key: value for key, value in RUN.items() if key not in _OF_A_GEOID},
    "run.output_height_type": known("ellipsoidal"),
    "run.geoid_name": known("none"),
}


@pytest.fixture
def pit(tmp_path: Path) -> MadeBook:
    """Give a job as people keep it: a rig, a flight of eight files, two runs, two audits."""
    book = MadeBook(tmp_path / "job")
    fly(book, "F1")
    book.write("geoid/demo-geoid-A.tif", "grid A")
    book.register("geoid/demo-geoid-A.tif", role="geoid")
    book.card("rig", "G1", RIG)
    book.card("flight", "F1", FLIGHT)
    export(book, "R1", decision="rejected", reason="heights were left ellipsoidal",
           values=ELLIPSOIDAL)  # fmt: skip
    export(book, "R2", values=RUN)
    book.write("deliver/tile_13.las", "R2 13")
    book.write("deliver/tile_14.las", "R1 14")
    audit(book, "D1", "do not send")
    book.write("deliver/tile_14.las", "R2 14")
    audit(book, "D2", "fit to send")
    book.close()
    return book


def audit(book: MadeBook, name: str, verdict: str) -> None:
    """Enter an audit of the delivery that has no findings to tell."""
    nothing = encode([])
    book.audit(
        "deliver", name=name, verdict=verdict, findings=compute_digest(nothing), blobs=(nothing,)
    )


TARGETS = {
    "trace-tile": "deliver/tile_14.las",
    "trace-stale-tile": "out/R1/tile_14.las",
    "trace-raw": "raw/F1/cap_0412_p1.bin",
    "trace-run": "R1",
    "trace-flight": "F1",
    "trace-rig": "G1",
}
ONWARD = {
    "onward-raw": "raw/F1/base.26o",
    "onward-geoid": "geoid/demo-geoid-A.tif",
    "onward-rig": "G1",
    "onward-run": "R1",
}


@pytest.mark.parametrize("name", TARGETS)
def test_a_trace_fits_one_screen(pit: MadeBook, name: str, request: pytest.FixtureRequest) -> None:
    """Tile, raw file, run, flight and rig of an ordinary job are each told on one screen."""
    shown = show_trace(pit, TARGETS[name])
    require_one_screen(shown)
    hold_golden(name, shown, request)


@pytest.mark.parametrize("name", ONWARD)
def test_what_was_made_of_it_fits_one_screen(
    pit: MadeBook, name: str, request: pytest.FixtureRequest
) -> None:
    """From raw file, grid, rig and run on to runs and audits, on one screen."""
    shown = show_trace(pit, ONWARD[name], onward=True)
    require_one_screen(shown)
    hold_golden(name, shown, request)


def test_everything_is_told_when_it_is_asked_for(
    pit: MadeBook, request: pytest.FixtureRequest
) -> None:
    """With --all no file, value or digest is left out, and nothing refers to --all any more."""
    shown = show_trace(pit, "deliver/tile_14.las", everything=True)
    assert "--all" not in shown
    for part in range(1, 6):
        assert f"raw/F1/cap_0412_p{part}.bin" in shown
    assert "1.523 m" in shown
    hold_golden("trace-all", shown, request)


def test_the_questions_of_a_client_are_answered(pit: MadeBook) -> None:
    """Geoid with version and digest, raw files, copies, mount, antenna, arm, frame, epoch."""
    shown = " ".join(show_trace(pit, "deliver/tile_14.las").split())
    digest = hashlib.sha256(b"grid A").hexdigest()
    for answer in (
        "demo-geoid-A, version 1, geoid/demo-geoid-A.tif",
        f"sha256 {format_digest(digest)}",
        "raw/F1/cap_0412_p1.bin",
        "copies not recorded",
        "mode drone",
        "aircraft receiver",
        "0.112 0.004 0.231 m from aircraft antenna",
        "frame NAD83(2011); not recorded: epoch",
        "carried, not confirmed: orientation (R2)",
    ):
        assert answer in shown


def test_whatever_is_shortened_says_how_to_see_the_rest(pit: MadeBook) -> None:
    """Names that are left out are counted, with the option that shows them."""
    shown = " ".join(show_trace(pit, "deliver/tile_14.las").split())
    assert "raw/F1/cap_0412_p2.bin and 3 more; 3 others: --all" in shown
    assert "unlike R1: output height type, geoid name; 3 blank in one of them: --all" in shown


def test_only_what_both_runs_have_is_compared(pit: MadeBook) -> None:
    """A blank is no difference: what one of the two runs alone has stands apart."""
    shown = " ".join(show_trace(pit, "deliver/tile_14.las", everything=True).split())
    assert "ellipsoidal → orthometric; geoid name none → demo-geoid-A recorded in R2" in shown
    assert "recorded in R2 alone: vertical datum, geoid version, geoid file" in shown
    assert "not recorded →" not in shown


def test_records_that_contradict_each_other_stand_in_rows_of_their_own(tmp_path: Path) -> None:
    """A run with another mount mode or lever arm than its flight and rig never shares their row."""
    book = MadeBook(tmp_path)
    fly(book, "F1")
    book.card("rig", "G1", RIG)
    book.card("flight", "F1", FLIGHT)
    wrong = {"run.mount_mode": known("hand"), "run.lever_arm": known(["0.1", "0", "0"], "m")}
    export(book, "R1", values={**RUN, **wrong})
    book.close()
    rows = show_trace(book, "out/R1/tile_13.las").splitlines()
    place = next(i for i, row in enumerate(rows) if row.startswith("mount"))
    assert re.search(r"^mount +mode hand +R1 +typed$", rows[place])
    assert re.search(r"^ +mode drone, inverted +F1 +typed$", rows[place + 1])
    joined = "\n".join(rows)
    assert re.search(r"0\.1  0  0 m from aircraft antenna.* R1", joined)
    assert re.search(r"0\.112  0\.004  0\.231 m from aircraft antenna.* G1", joined)


def test_a_carried_value_is_told_apart_in_its_row(pit: MadeBook) -> None:
    """Values of one record that are known in different ways stand in different rows."""
    rows = show_trace(pit, "deliver/tile_14.las").splitlines()
    assert any(re.search(r"mode drone, inverted +F1 \(R2\) +typed", row) for row in rows)
    assert any(re.search(r"inverted; not confirmed +R2 +carried$", row) for row in rows)


def test_a_renamed_copy_is_shown_by_both_paths(pit: MadeBook, tmp_path: Path) -> None:
    """The path that was asked about and the path in the book stand below each other."""
    stray = tmp_path / "from client.las"
    stray.write_text("R2 14", encoding="utf-8")
    shown = " ".join(show_trace(pit, str(stray)).split())
    assert "from client.las was made by run R2" in shown
    assert "known as out/R2/tile_14.las (made by R2" in shown
    assert "deliver/tile_14.las (audited in D2" in shown


def test_a_merge_of_many_flights_stays_short(
    tmp_path: Path, request: pytest.FixtureRequest
) -> None:
    """A merge of twelve flights takes little more, by ranges of ids, nothing dropped."""
    book = MadeBook(tmp_path)
    book.card("rig", "G1", RIG)
    for number in range(1, 13):
        fly(book, f"F{number}")
        book.card("flight", f"F{number}", FLIGHT)
        export(book, f"R{number}", f"F{number}", values=RUN)
    book.write("out/all.las", "all")
    used = [book.use(f"out/R{number}/tile_13.las") for number in range(1, 13)]
    book.step("out/all.las", inputs=used)
    book.close()
    shown = show_trace(book, "out/all.las")
    assert len(shown.splitlines()) < LINES + 5
    assert "R1–R12" in shown
    assert "F1–F12" in shown
    hold_golden("trace-many", shown, request)


def test_a_value_that_was_amended_shows_what_stood_there(pit: MadeBook) -> None:
    """What was struck through, by which entry and why, stands below the value that holds now."""
    amend_record(pit.folder, "R2", ("lever_arm=0.112 0.004 0.213",), "digits were swapped")
    shown = " ".join(show_trace(pit, "deliver/tile_14.las").split())
    assert "0.112 0.004 0.213 m from aircraft antenna" in shown
    assert (
        "amended R2 lever arm was 0.112 0.004 0.231 m until entry 11 (digits were swapped)" in shown
    )
    everything = " ".join(show_trace(pit, "R2", everything=True).split())
    assert "amended: lever arm was 0.112 0.004 0.231 m until entry 11" in everything
    assert trace(pit.folder, "entry:11").chain[0].id == "R2"
