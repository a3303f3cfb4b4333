"""What a trace shows fits one laptop screen, 80 columns by 24 lines, and leaves nothing unsaid.

The size is that of the terminal a system opens by default (common practice, no source).
"""

from __future__ import annotations

import hashlib
import re
from dataclasses import replace
from pathlib import Path

import pytest
from made_book import MadeBook, known
from printed import hold_golden, print_screen

from ledger.amend import amend_record
from ledger.canonical import compute_digest, encode
from ledger.model.known import KnownBy, KnownValue
from ledger.report.screen import format_digest
from ledger.report.trace import make_screen
from ledger.trace import trace

COLUMNS, LINES = 80, 24

RIG = {
    "rig.scanner_serial": known("SU-07"),
    "rig.aircraft_serial": known("AC-03"),
    "rig.lever_arm_aircraft": known(["0.112", "0.004", "0.231"], "m"),
    "rig.lever_arm_convention": known("forward-right-down"),
    "rig.lever_arm_measured": known("2026-04-02"),
    "rig.bracket": known("B-2"),
    "rig.calibration_date": known("2026-01-15"),
    "rig.calibration_file": KnownValue("c" * 64, where="cal/SU-07.xml"),
    "rig.calibration_serial": known("SU-07"),
}
FLIGHT = {
    "flight.rig": known("G1"),
    "flight.platform": known("drone"),
    "flight.mount_mode": known("drone"),
    "flight.orientation": known("inverted"),
    "flight.position_source": known("aircraft receiver"),
    "flight.scanner_antenna_fitted": known(value=False),
    "flight.height_type": known("ellipsoidal"),
    "flight.frame": known("NAD83(2011)"),
    "flight.base_mark": known("QM1"),
    "flight.base_height": known("1.523", "m"),
    "flight.base_height_again": known("1.524", "m"),
    "flight.base_height_kind": known("vertical"),
    "flight.base_kind": known("own base"),
    "flight.lines": known(8),
    "flight.wind": known("4 m/s from the west"),
    "flight.takeoff": known("2026-05-12T14:00:00Z"),
    "flight.landing": known("2026-05-12T14:18:00Z"),
}
RUN = {
    "run.software": known("demo-proc", by=KnownBy.READ),
    "run.version": known("4.1.0", by=KnownBy.READ),
    "run.mount_mode": known("drone"),
    "run.orientation": known("inverted", by=KnownBy.CARRIED),
    "run.position_source": known("aircraft receiver"),
    "run.lever_arm": known(["0.112", "0.004", "0.231"], "m"),
    "run.lever_arm_from": known("aircraft antenna"),
    "run.lever_arm_convention": known("forward-right-down"),
    "run.crs": known("EPSG:6346"),
    "run.frame": known("NAD83(2011)"),
    "run.input_height_type": known("ellipsoidal"),
    "run.output_height_type": known("orthometric"),
    "run.vertical_datum": known("NAVD88"),
    "run.geoid_name": known("demo-geoid-A"),
    "run.geoid_version": known("1"),
    "run.geoid_file": known("geoid/demo-geoid-A.tif"),
    "run.control_used": known(value=False),
}
ELLIPSOIDAL = {
    **RUN,
    "run.output_height_type": known("ellipsoidal"),
    "run.geoid_name": known("none"),
}
for _key in ("run.vertical_datum", "run.geoid_version", "run.geoid_file"):
    del ELLIPSOIDAL[_key]


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


def fly(book: MadeBook, flight: str) -> None:
    """Enter the raw files of a flight."""
    captures = [f"raw/{flight}/cap_0412_p{part}.bin" for part in range(1, 6)]
    others = [f"raw/{flight}/{name}" for name in ("base.26o", "nmea.txt", "mount.png")]
    for path in (*captures, *others):
        book.write(path, path)
    book.card("flight", flight)
    book.register(*captures, flight=flight)
    book.register(*others, flight=flight, role="base-log")


def export(book: MadeBook, run: str, flight: str = "F1", **parts: object) -> None:
    """Enter a run that made two tiles of a flight."""
    paths = [f"out/{run}/tile_{number}.las" for number in (13, 14)]
    for path, number in zip(paths, (13, 14), strict=True):
        book.write(path, f"{run} {number}")
    book.run(*paths, inputs=[{"flight": flight}], **parts)  # type: ignore[arg-type]


def show(book: MadeBook, text: str, *, onward: bool = False, everything: bool = False) -> str:
    """Return the screen of a trace on a laptop."""
    result = trace(book.folder, text, onward=onward)
    return print_screen(make_screen(result, everything=everything), COLUMNS)


def require_one_screen(shown: str) -> None:
    """Fail where a screen is larger than a laptop's, its prompt left out."""
    lines = shown.splitlines()
    assert len(lines) < LINES, f"{len(lines)} lines"
    assert max(len(line) for line in lines) <= COLUMNS


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
    shown = show(pit, TARGETS[name])
    require_one_screen(shown)
    hold_golden(name, shown, request)


@pytest.mark.parametrize("name", ONWARD)
def test_what_was_made_of_it_fits_one_screen(
    pit: MadeBook, name: str, request: pytest.FixtureRequest
) -> None:
    """From raw file, grid, rig and run on to runs and audits, on one screen."""
    shown = show(pit, ONWARD[name], onward=True)
    require_one_screen(shown)
    hold_golden(name, shown, request)


def test_everything_is_told_when_it_is_asked_for(
    pit: MadeBook, request: pytest.FixtureRequest
) -> None:
    """With --all no file, value or digest is left out, and nothing refers to --all any more."""
    shown = show(pit, "deliver/tile_14.las", everything=True)
    assert "--all" not in shown
    for part in range(1, 6):
        assert f"raw/F1/cap_0412_p{part}.bin" in shown
    assert "1.523 m" in shown
    hold_golden("trace-all", shown, request)


def test_the_questions_of_a_client_are_answered(pit: MadeBook) -> None:
    """Geoid with version and digest, raw files, copies, mount, antenna, arm, frame, epoch."""
    shown = " ".join(show(pit, "deliver/tile_14.las").split())
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
    shown = " ".join(show(pit, "deliver/tile_14.las").split())
    assert "raw/F1/cap_0412_p2.bin and 3 more; 3 others: --all" in shown
    assert "unlike R1: output height type, geoid name; 3 blank in one of them: --all" in shown


def test_only_what_both_runs_have_is_compared(pit: MadeBook) -> None:
    """A blank is no difference: what one of the two runs alone has stands apart."""
    shown = " ".join(show(pit, "deliver/tile_14.las", everything=True).split())
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
    rows = show(book, "out/R1/tile_13.las").splitlines()
    place = next(i for i, row in enumerate(rows) if row.startswith("mount"))
    assert re.search(r"^mount +mode hand +R1 +typed$", rows[place])
    assert re.search(r"^ +mode drone, inverted +F1 +typed$", rows[place + 1])
    joined = "\n".join(rows)
    assert re.search(r"0\.1  0  0 m from aircraft antenna.* R1", joined)
    assert re.search(r"0\.112  0\.004  0\.231 m from aircraft antenna.* G1", joined)


def test_a_carried_value_is_told_apart_in_its_row(pit: MadeBook) -> None:
    """Values of one record that are known in different ways stand in different rows."""
    rows = show(pit, "deliver/tile_14.las").splitlines()
    assert any(re.search(r"mode drone, inverted +F1 \(R2\) +typed", row) for row in rows)
    assert any(re.search(r"inverted; not confirmed +R2 +carried$", row) for row in rows)


def test_a_renamed_copy_is_shown_by_both_paths(pit: MadeBook, tmp_path: Path) -> None:
    """The path that was asked about and the path in the book stand below each other."""
    stray = tmp_path / "from client.las"
    stray.write_text("R2 14", encoding="utf-8")
    shown = " ".join(show(pit, str(stray)).split())
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
    shown = show(book, "out/all.las")
    assert len(shown.splitlines()) < LINES + 5
    assert "R1–R12" in shown
    assert "F1–F12" in shown
    hold_golden("trace-many", shown, request)


def test_a_job_without_records_says_what_would_record_it(
    tmp_path: Path, request: pytest.FixtureRequest
) -> None:
    """A delivered file that nobody recorded leads to the command that would."""
    book = MadeBook(tmp_path)
    book.write("deliver/tile.las", "points")
    book.audit("deliver", verdict="incomplete")
    book.close()
    shown = show(book, "deliver/tile.las")
    assert "no recorded run or step made it" in shown
    assert re.search(r"^made by +not recorded$", shown, re.MULTILINE)
    assert re.search(r"^so unknown +raw files, geoid, frame and epoch", shown, re.MULTILINE)
    assert "Next: swathbook record deliver/tile.las" in shown
    hold_golden("trace-nothing", shown, request)


def test_a_run_of_which_little_was_recorded_says_each_gap(
    tmp_path: Path, request: pytest.FixtureRequest
) -> None:
    """A run with a fifth of its fields shows every question with *not recorded* beside it."""
    book = MadeBook(tmp_path)
    book.card("flight", "F1")
    book.write("out/tile.las", "points")
    values: dict[str, KnownValue] = {"run.software": known("demo-proc")}
    book.run("out/tile.las", inputs=[{"flight": "F1"}], decision="undecided", values=values)
    book.close()
    shown = show(book, "out/tile.las")
    require_one_screen(shown)
    for label in ("coordinates", "geoid", "mount", "antenna", "lever arm", "raw files"):
        row = next(row for row in shown.splitlines() if row.startswith(label))
        assert "not recorded" in row, label
    assert "swathbook register raw --flight F1" in shown
    hold_golden("trace-gaps", shown, request)


def test_an_unknown_file_leads_to_the_commands_that_would_enter_it(tmp_path: Path) -> None:
    """All ways in are told, since the program cannot know which file it is."""
    book = MadeBook(tmp_path)
    book.close()
    book.write("deliver/a tile.las", "points")
    shown = show(book, str(tmp_path / "deliver/a tile.las"))
    assert "Next: swathbook record 'deliver/a tile.las'" in shown
    assert "Next: swathbook audit deliver" in shown


def test_good_copies_are_told_by_drive(tmp_path: Path) -> None:
    """Two drives that were read back are two good copies; one that was only seen is told apart."""
    book = MadeBook(tmp_path / "job")
    book.write("raw/cap.bin", "capture")
    book.card("flight", "F1")
    book.register("raw/cap.bin", flight="F1")
    seen = book.see("raw/cap.bin", "capture")
    for drive, back in (("ONE", True), ("TWO", True), ("THREE", False)):
        book.sight(replace(seen, path=f"/media/u/{drive}/cap.bin"), volume=drive, reread=back)
    book.close()
    shown = " ".join(show(book, "F1").split())
    assert "copies 2 good of 2 asked for: ONE (1 file, read back, last 2026-05-14)" in shown
    assert "THREE (1 file, seen, not read back, last 2026-05-14)" in shown
    everything = show(book, "F1", everything=True)
    assert re.search(r"raw/cap.bin: /media/u/THREE/cap.bin +seen +2026-05-14", everything)


def test_settings_and_grids_of_a_run_take_no_good_copy_away(tmp_path: Path) -> None:
    """A run is told as many good copies as its flight has, whatever else it read."""
    book = MadeBook(tmp_path / "job")
    book.write("raw/cap.bin", "capture")
    book.write("geoid/demo-geoid-A.tif", "grid A")
    book.write("config/R1.json", "settings")
    book.write("out/tile.las", "points")
    book.card("flight", "F1")
    book.register("raw/cap.bin", flight="F1")
    book.register("geoid/demo-geoid-A.tif", role="geoid")
    seen = book.see("raw/cap.bin", "capture")
    for drive in ("ONE", "TWO"):
        place = replace(seen, path=f"/media/u/{drive}/cap.bin")
        book.sight(place, volume=drive, reread=True)
    used = [book.use("geoid/demo-geoid-A.tif", "geoid"), book.use("config/R1.json", "config")]
    book.run("out/tile.las", inputs=[{"flight": "F1"}, *used], decision="undecided", values={})
    book.close()
    for asked in ("F1", "R1"):
        assert "copies 2 good of 2 asked for" in " ".join(show(book, asked).split()), asked


def test_a_value_that_was_amended_shows_what_stood_there(pit: MadeBook) -> None:
    """What was struck through, by which entry and why, stands below the value that holds now."""
    amend_record(pit.folder, "R2", ("lever_arm=0.112 0.004 0.213",), "digits were swapped")
    shown = " ".join(show(pit, "deliver/tile_14.las").split())
    assert "0.112 0.004 0.213 m from aircraft antenna" in shown
    assert (
        "amended R2 lever arm was 0.112 0.004 0.231 m until entry 11 (digits were swapped)" in shown
    )
    everything = " ".join(show(pit, "R2", everything=True).split())
    assert "amended: lever arm was 0.112 0.004 0.231 m until entry 11" in everything
    assert trace(pit.folder, "entry:11").chain[0].id == "R2"


def test_a_raw_file_of_no_flight_says_what_that_costs(
    tmp_path: Path, request: pytest.FixtureRequest
) -> None:
    """A capture that was only entered leads to the command that gives it its flight."""
    book = MadeBook(tmp_path)
    book.write("raw/cap.bin", "capture")
    book.register("raw/cap.bin")
    book.write("geoid/A.tif", "grid")
    book.register("geoid/A.tif", role="geoid")
    book.close()
    shown = show(book, "raw/cap.bin")
    assert re.search(r"^flight +not recorded$", shown, re.MULTILINE)
    assert "Next: swathbook register raw/cap.bin --flight F1" in shown
    assert "so unknown" not in show(book, "geoid/A.tif")
    hold_golden("trace-no-flight", shown, request)


def test_a_file_registered_again_with_a_flight_belongs_to_it(tmp_path: Path) -> None:
    """The registration that names a flight tells more than the one before."""
    book = MadeBook(tmp_path)
    book.write("raw/cap.bin", "capture")
    book.register("raw/cap.bin")
    book.card("flight", "F1")
    book.register("raw/cap.bin", flight="F1")
    book.close()
    shown = show(book, "raw/cap.bin")
    assert shown.startswith("cap.bin is a raw file of flight F1 (capture), registered in entry 3.")
