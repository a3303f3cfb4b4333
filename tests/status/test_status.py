"""The bare command: raw files, cards and outputs, from a made book and the files beside it."""

from __future__ import annotations

import os
from dataclasses import replace
from pathlib import Path

from made_book import MadeBook, known, make_fingerprint
from status_lines import line, process

from ledger.model.known import KnownBy, KnownValue
from ledger.model.nextstep import NextStep
from ledger.model.typed import quote_path
from ledger.recheck import recheck
from ledger.status import read_status


def test_outside_a_job_the_next_thing_is_to_start_one(tmp_path: Path) -> None:
    """Without a book the answer is what to type, not an error."""
    result = read_status(tmp_path)
    assert result.job is None
    assert result.step.command == "swathbook start FOLDER"


def test_above_the_jobs_they_are_named(tmp_path: Path) -> None:
    """In the folder where the jobs lie, the last one worked on is the way in, typed as it works."""
    for name, hour in (("pit", 3), ("new pit", 5), ("quarry", 4)):
        made = MadeBook(tmp_path / name)
        made.close()
        os.utime(tmp_path / name / "swathbook.sqlite", ns=(hour, hour))
    (tmp_path / "empty").mkdir()
    result = read_status(tmp_path)
    assert result.state[0].sentence == (
        "There is no book here or above. 3 jobs below: new pit, pit, quarry."
    )
    typed = quote_path("new pit")
    assert result.step == NextStep(f"cd {typed}", "the job that was worked on last")


def test_a_new_job_waits_for_raw_files(book: MadeBook) -> None:
    """After start, nothing is registered: files have to be there before they can be."""
    book.write("job.toml", '[folders]\nraw = "field"\n')
    result = read_status(book.folder)
    assert result.job == book.folder
    assert line(result, "job").sentence == "QM-0412, Borrow pit; its book holds 1 entry."
    assert line(result, "raw data").sentence == "No raw file is registered."
    assert result.step == NextStep(
        "swathbook register field --flight F1",
        "once what came off card, base and aircraft lies in field",
    )
    book.write("field/a.bin", "x")
    result = read_status(book.folder)
    assert line(result, "raw data").sentence == "1 file in field is not registered."
    assert result.step == NextStep("swathbook register field --flight F1")


def test_registered_files_are_counted_and_the_card_is_not_cleared(book: MadeBook) -> None:
    """Number and bytes of raw files are told, where they lie, and whether the card may go."""
    book.write("raw/a.bin", "x" * 1500)
    book.write("raw/b.bin", "y" * 500)
    book.register("raw/a.bin")
    book.register("raw/b.bin")
    result = read_status(book.folder)
    said = line(result, "raw data")
    assert (said.sentence, said.step.command) == ("2 files, 2.00 kB, registered.", "")
    assert line(result, "card").sentence == (
        "Do not clear the card: no copy was read back from its drive, 2 copies needed."
        " Each file was seen at 1 place: the job's own drive (last 14 May 2026)."
    )
    assert result.copies is not None
    assert [place.path for place in result.copies.places] == ["raw/a.bin", "raw/b.bin"]


def test_the_same_files_in_two_flights_are_counted_once(book: MadeBook) -> None:
    """A base log of two flights is one file."""
    book.write("raw/base.bin", "x" * 1500)
    for flight in ("F1", "F2"):
        book.card("flight", flight, {"flight.mount_mode": known("drone")})
        book.register("raw/base.bin", flight=flight)
    assert line(read_status(book.folder), "raw data").sentence.startswith("1 file, 1.50 kB, reg")


def test_verified_copies_clear_the_card(book: MadeBook) -> None:
    """The answer comes from the book: two drives read back, and it changes."""
    book.write("raw/a.bin", "x")
    book.register("raw/a.bin")
    for drive in ("/media/u/D1", "/media/u/D2"):
        copy = replace(book.see("raw/a.bin"), path=f"{drive}/a.bin")
        book.sight(copy, volume=drive, reread=True)
    result = read_status(book.folder)
    assert "The card may be cleared" in line(result, "card").sentence
    assert result.copies is not None
    assert result.copies.card_may_be_cleared


def test_what_can_never_be_registered_does_not_wait(book: MadeBook) -> None:
    """A dead link or a link to a folder in the folder of raw files is no next thing to type."""
    book.write("raw/a.bin", "a")
    book.register("raw/a.bin")
    (book.folder / "raw" / "dead").symlink_to("nothing")
    (book.folder / "raw" / "up").symlink_to("..", target_is_directory=True)
    told = line(read_status(book.folder), "raw data")
    assert "not registered" not in told.sentence


def test_raw_files_that_came_later_are_registered_by_themselves(book: MadeBook) -> None:
    """Only what is new is named: the files of the first flight must not become the second's too."""
    book.card("flight", "F1", {"flight.mount_mode": known("drone")})
    book.write("raw/a.bin", "a")
    book.register("raw/a.bin", flight="F1")
    book.write("raw/second day/b.bin", "b")
    book.write("raw/second day/deep/c.bin", "c")
    book.write("raw/d.bin", "d")
    said = line(read_status(book.folder), "raw data")
    assert said.sentence.startswith(
        "3 files in raw are not registered. 1 file, 1 byte, registered."
    )
    folder = quote_path("raw/second day")
    assert said.step == NextStep(
        f"swathbook register raw/d.bin {folder} --flight F2", "or the flight that they belong to"
    )
    book.card("flight", "F2", {"flight.mount_mode": known("drone")})
    assert "--flight F2" in line(read_status(book.folder), "raw data").step.command


def test_a_photo_that_a_card_names_is_of_that_flight(book: MadeBook) -> None:
    """Next is not a second flight: the card of the first one says whose photo it is."""
    book.write("raw/a.bin", "a")
    book.register("raw/a.bin", flight="F1")
    book.write("raw/mount.jpg", "photo")
    photo = KnownValue("0" * 64, known_by=KnownBy.TYPED, where="raw/mount.jpg")
    book.card("flight", "F1", {"flight.photo_mount": photo})
    said = line(read_status(book.folder), "raw data")
    assert said.step.command == "swathbook register raw/mount.jpg --flight F1"


def test_a_flight_without_card_waits(book: MadeBook) -> None:
    """A rig is written down before the flights that it flew; then an empty flight waits."""
    book.card("flight", "F1")
    result = read_status(book.folder)
    assert line(result, "rig").step.command == "swathbook record rig"
    assert line(result, "flights").step.command == "swathbook record flight F1"
    book.card("rig", "G1", {"rig.scanner_serial": known("SU-07")})
    book.card("flight", "F1", {"flight.mount_mode": known("drone")})
    result = read_status(book.folder)
    said = line(result, "flights")
    assert (said.sentence, said.step.command) == ("1 flight.", "")
    assert "rig" not in [each.topic for each in result.state]


def test_a_rig_of_another_job_waits_to_be_confirmed(book: MadeBook) -> None:
    """What was taken over proves nothing until somebody confirms it."""
    book.card("rig", "G1", {"rig.scanner_serial": known("SU-07", by=KnownBy.CARRIED)})
    said = line(read_status(book.folder), "rig")
    assert said.step.command == "swathbook record rig G1"


def test_field_cards_do_not_hide_what_is_pressing(book: MadeBook) -> None:
    """Once there are runs, a blank field card is still told and no longer the next thing."""
    book.write("raw/a.bin", "raw")
    book.register("raw/a.bin", flight="F1")
    book.card("flight", "F1")
    assert read_status(book.folder).step.command == "swathbook record rig"
    process(book, "out/a.las", decision="undecided")
    result = read_status(book.folder)
    assert line(result, "flights").step.command == "swathbook record flight F1"
    assert result.step.command == "swathbook record decision R1 accepted"
    book.decide("R1", "rejected")
    assert read_status(book.folder).step.command == "swathbook record rig"


def test_outputs_without_a_run_are_listed(book: MadeBook) -> None:
    """Point and raster files that no run explains are named; a document beside them is not."""
    process(book, "out/a.las")
    book.write("out/b.laz", "new")
    book.write("out/log.txt", "text")
    result = read_status(book.folder)
    said = line(result, "outputs")
    assert said.sentence == "1 file in out is explained by no run: out/ b.laz."
    assert said.step.command == "swathbook record"
    assert result.unexplained == ("out/b.laz",)
    book.run("out/b.laz")
    result = read_status(book.folder)
    said = line(result, "outputs")
    assert (said.sentence, said.step.command) == ("All 2 files in out have their run.", "")
    assert result.unexplained == ()


def test_many_outputs_without_a_run_fit_on_one_screen(book: MadeBook) -> None:
    """They are told by folder with their first names; the result holds every one of them."""
    for run in range(8):
        for tile in range(24):
            book.write(f"out/R{run}/tile_{tile:02}.las", "x")
    result = read_status(book.folder)
    said = line(result, "outputs").sentence
    assert said.startswith(
        "192 files in out are explained by no run:"
        " out/R0/ tile_00.las, tile_01.las, tile_02.las and 21 more; out/R1/ tile_00.las"
    )
    assert said.endswith("; and 2 more folders.")
    assert len(said) < 8 * 80
    assert len(result.unexplained) == 192


def test_audited_files_that_no_run_made_are_outputs_without_a_run(book: MadeBook) -> None:
    """A tile that lies in the delivery alone has no run either, however it came there."""
    process(book, "out/a.las", "out/b.las")
    points = make_fingerprint("p", "f")
    book.run(book.output("out/b.las", points))
    for name in ("a.las", "c.las", "readme.txt"):
        book.write(f"deliver/{name}", f"out/{name}")
    book.write("deliver/b.laz", "same points, other bytes")
    book.audit("deliver", fingerprints={"b.laz": points})
    result = read_status(book.folder)
    lines = [each for each in result.state if each.topic == "outputs"]
    assert [each.sentence for each in lines] == [
        "All 2 files in out have their run.",
        "1 file audited in D1 comes from no run: deliver/ c.las.",
    ]
    assert lines[1].step.command == "swathbook record deliver/c.las"
    assert result.unexplained == ("deliver/c.las",)


def test_an_output_that_was_only_seen_is_not_explained(book: MadeBook) -> None:
    """A file that the book saw and no run made stays on the list."""
    book.write("out/a.las", "a")
    book.sight(book.see("out/a.las"))
    assert "explained by no run: out/ a.las" in line(read_status(book.folder), "outputs").sentence


def test_an_output_of_another_size_is_listed(book: MadeBook) -> None:
    """Another size is another file, and no run explains it."""
    process(book, "out/a.las", "out/b.las")
    book.write("out/a.las", "more than before")
    said = line(read_status(book.folder), "outputs")
    assert said.sentence == "1 file in out is explained by no run: out/ a.las."


def test_an_output_with_another_time_only_looks_changed(book: MadeBook) -> None:
    """After a copy or restore nothing is called changed whose bytes nobody compared."""
    process(book, "out/a.las", "out/b.las")
    for name in ("a.las", "b.las"):
        os.utime(book.folder / "out" / name, ns=(1, 1))
    result = read_status(book.folder)
    lines = [each for each in result.state if each.topic == "outputs"]
    assert lines[0].sentence == "All 2 files in out have their run."
    assert lines[1].sentence == (
        "2 files look changed: size same, time other, as after a copy or restore; recheck reads"
        " the bytes: out/ a.las, b.las."
    )
    assert lines[1].step.command == "swathbook recheck out"
    assert result.unexplained == ()
    recheck(book.folder, [book.folder / "out"])
    assert [
        each.sentence for each in read_status(book.folder).state if each.topic == "outputs"
    ] == ["All 2 files in out have their run."]


def test_the_folder_of_outputs_is_read_from_a_specification_of_any_quality(book: MadeBook) -> None:
    """A job.toml with faults elsewhere still names the folder; a broken one leaves the usual."""
    book.write("job.toml", 'nonsense = 3\n[folders]\nout = "export"\n')
    book.write("export/a.las", "a")
    assert "1 file in export" in line(read_status(book.folder), "outputs").sentence
    book.write("job.toml", "[folders\n")
    assert line(read_status(book.folder), "outputs").sentence == (
        "out holds no point or raster file."
    )


def test_undecided_runs_wait_for_a_decision(book: MadeBook) -> None:
    """Runs on which nobody decided are named until somebody does."""
    process(book, "out/a.las", decision="undecided")
    said = line(read_status(book.folder), "runs")
    assert said.sentence == "Nobody has decided on R1: accepted or rejected."
    assert said.step == NextStep(
        "swathbook record decision R1 accepted", 'or rejected --reason "…"'
    )
    book.decide("R1", "rejected", "wrong lever arm")
    assert line(read_status(book.folder), "runs").sentence == (
        "1 run or step; the last, R1, was rejected on 14 May 2026 (wrong lever arm)."
    )
