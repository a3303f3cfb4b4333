"""The bare command: where the job stands, from a made book and the files beside it."""

from __future__ import annotations

import os
import shutil
import time
from dataclasses import replace
from pathlib import Path

import pytest
from made_book import MadeBook, known, make_fingerprint

from ledger.auditentry import write_finding
from ledger.canonical import compute_digest, encode
from ledger.model.fields import CAPTURE_SETTINGS
from ledger.model.finding import Finding, Grade, Outcome
from ledger.model.known import KnownBy, KnownValue
from ledger.model.lineage import describe_day
from ledger.model.nextstep import NextStep
from ledger.model.typed import quote_path
from ledger.recheck import recheck
from ledger.rechecked import keep_broken_note
from ledger.status import StatusLine, StatusResult, read_status


def line(result: StatusResult, topic: str) -> StatusLine:
    """Return the line of a topic."""
    return next(line for line in result.state if line.topic == topic)


@pytest.fixture
def book(tmp_path: Path) -> MadeBook:
    """Give a job with its first entry."""
    made = MadeBook(tmp_path / "job")
    made.write("job.toml", "# as wished\n")
    made.enter("job", {"reference": "QM-0412", "title": "Borrow pit", "like": ""})
    return made


def process(book: MadeBook, *names: str, **parts: object) -> str:
    """Enter a run whose outputs are made on the way."""
    for name in names:
        book.write(name, name)
    return book.run(*names, **parts)  # type: ignore[arg-type]


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


def audit(book: MadeBook, **parts: object) -> None:
    """Audit a delivery of two tiles."""
    book.write("deliver/a.las", "a")
    book.write("deliver/b.las", "b")
    book.audit("deliver", **parts)  # type: ignore[arg-type]


def test_an_audit_holds_until_a_file_changes(book: MadeBook) -> None:
    """Another size, a missing and an added file end the last audit; another time is in doubt."""
    audit(book)
    said = line(read_status(book.folder), "last audit")
    assert said.sentence == (
        "D1, deliver, 14 May 2026: fit to send. It holds by sizes and times; recheck reads bytes."
    )
    assert said.step.command.startswith("swathbook handover ")

    tile = book.folder / "deliver/a.las"
    noted = tile.stat().st_mtime_ns
    os.utime(tile, ns=(noted, noted + 10**9))
    said = line(read_status(book.folder), "last audit")
    assert "It may hold no longer: 1 file with another time, size the same" in said.sentence
    assert "changed" not in said.sentence
    assert said.step.command == "swathbook recheck deliver"
    os.utime(tile, ns=(noted, noted))
    assert line(read_status(book.folder), "last audit").step.command.startswith(
        "swathbook handover "
    )

    tile.unlink()
    book.write("deliver/b.las", "longer")
    book.write("deliver/c.las", "c")
    said = line(read_status(book.folder), "last audit")
    assert said.sentence.endswith(
        "It holds no longer: 1 file of another size (b.las); 1 file missing (a.las);"
        " 1 file added (c.las)."
    )
    assert said.step.command == "swathbook audit deliver"


@pytest.mark.parametrize("wishes", ["# second\n", None])
def test_an_audit_against_another_specification_holds_no_longer(
    book: MadeBook, wishes: str | None
) -> None:
    """Where job.toml changed since, or is gone, the audit is over, and recheck says the same."""
    book.write("job.toml", "# first\n")
    audit(book)
    assert line(read_status(book.folder), "last audit").step.command.startswith(
        "swathbook handover "
    )
    if wishes is None:
        (book.folder / "job.toml").unlink()
    else:
        book.write("job.toml", wishes)
    said = line(read_status(book.folder), "last audit").sentence
    assert "It holds no longer: job.toml is " in said
    (standing,) = recheck(book.folder).audits
    assert standing.sentence in said


def test_a_delivery_that_is_away_cannot_be_audited_again(book: MadeBook) -> None:
    """Where the folder is not there, the line says so and sends nobody to audit it."""
    audit(book)
    shutil.rmtree(book.folder / "deliver")
    said = line(read_status(book.folder), "last audit")
    assert said.sentence.endswith("The folder is not there now.")
    assert said.step.command == ""


def test_nothing_is_to_be_audited_before_a_run_is_accepted(book: MadeBook) -> None:
    """An audit before any run would only find orphans; after one, its folder is named as it is."""
    book.write("raw/a.bin", "raw")
    book.register("raw/a.bin")
    result = read_status(book.folder)
    assert line(result, "last audit").step.command == ""
    assert result.step == NextStep("swathbook record", "once something is processed into out")
    process(book, "out/R1/a.las", decision="undecided")
    assert line(read_status(book.folder), "last audit").step.command == ""
    book.decide("R1", "accepted")
    assert read_status(book.folder).step == NextStep("swathbook audit out/R1", "before it is sent")
    book.write("geoid/grid.tif", "grid")
    book.write("to the client/a.las", "out/R1/a.las")
    folder = quote_path("to the client")
    assert read_status(book.folder).step.command == f"swathbook audit {folder}"
    book.write("another/a.las", "out/R1/a.las")
    assert read_status(book.folder).step.command == "swathbook audit out/R1"


def test_acceptances_since_the_audit_count(book: MadeBook) -> None:
    """The verdict improves when the last minor finding is accepted, and not before."""
    minor = [
        Finding("custody", Outcome.NONCONFORMING, subject, "Nobody decided.", Grade.MINOR)
        for subject in ("a.las", "b.las")
    ]
    note = Finding("late", Outcome.NONCONFORMING, "R1", "Late.", Grade.OBSERVATION)
    findings = encode([write_finding(finding) for finding in (*minor, note)])
    audit(
        book,
        verdict="send only with acceptance",
        findings=compute_digest(findings),
        blobs=(findings,),
    )
    said = line(read_status(book.folder), "last audit")
    assert "send only with acceptance, 0 of 2 minor accepted." in said.sentence
    assert said.step == NextStep(
        f'swathbook accept {minor[0].id} --by "site engineer" --reason "…"', "or put it right"
    )
    accept(book, minor[0])
    said = line(read_status(book.folder), "last audit")
    assert "send only with acceptance, 1 of 2 minor accepted." in said.sentence
    assert said.step.command.startswith(f"swathbook accept {minor[1].id} ")
    accept(book, minor[1])
    said = line(read_status(book.folder), "last audit")
    assert "fit to send, 2 of 2 minor accepted." in said.sentence
    assert said.step.command.startswith("swathbook handover ")


def accept(book: MadeBook, finding: Finding) -> None:
    """Take a finding."""
    values = {"finding": finding.id, "by": "site engineer", "reason": "known", "audit": 1}
    book.enter("acceptance", values)


def test_a_quick_audit_does_not_hide_a_full_one_of_the_same_bytes(book: MadeBook) -> None:
    """After a quick audit of unchanged bytes the full verdict stands; of other bytes it is over."""
    audit(book)
    book.audit("deliver", verdict="incomplete", quick=True)
    assert ": fit to send." in line(read_status(book.folder), "last audit").sentence
    book.write("deliver/a.las", "other")
    book.audit("deliver", name="D2", verdict="incomplete", quick=True)
    assert ", quick: incomplete." in line(read_status(book.folder), "last audit").sentence


def test_a_file_that_could_not_be_read_ends_the_audit(book: MadeBook) -> None:
    """What the audit could not read is no file that still has its size and time."""
    audit(book, unread=("b.las",))
    said = line(read_status(book.folder), "last audit")
    assert "1 file could not be read at the audit (b.las)" in said.sentence


def test_a_bad_verdict_leaves_something_to_do(book: MadeBook) -> None:
    """After an audit that says not to send, the worst finding is named, and what comes after it."""
    major = Finding("custody", Outcome.NONCONFORMING, "a.las", "a.las was made by R1.", Grade.MAJOR)
    findings = encode([write_finding(major)])
    audit(book, verdict="do not send", findings=compute_digest(findings), blobs=(findings,))
    said = line(read_status(book.folder), "last audit")
    assert ": do not send. a.las was made by R1. It holds" in said.sentence
    assert said.step == NextStep("swathbook audit deliver", "once what it found is put right")


@pytest.mark.parametrize(
    ("quick", "when"), [(True, "reads the points"), (False, "once what is missing is there")]
)
def test_an_incomplete_audit_says_what_it_waits_for(book: MadeBook, quick: bool, when: str) -> None:
    """A quick audit waits for the points, a full one for whatever input was missing."""
    audit(book, quick=quick, verdict="incomplete")
    said = line(read_status(book.folder), "last audit")
    assert ": incomplete." in said.sentence
    assert said.step == NextStep("swathbook audit deliver", when)


# Alarms.


def test_a_bad_recheck_is_the_first_line(book: MadeBook) -> None:
    """Whatever else waits: what a recheck found wrong comes first, with date and what."""
    audit(book)
    book.write("out/b.las", "new")
    tile = book.folder / "deliver/a.las"
    noted = tile.stat().st_mtime_ns
    tile.write_text("b", encoding="ascii")
    os.utime(tile, ns=(noted, noted))
    (book.folder / "deliver/b.las").unlink()
    recheck(book.folder)
    result = read_status(book.folder)
    first = result.state[0]
    assert (first.topic, first.is_alarm) == ("alarm", True)
    assert "found 1 file changed, 1 file missing: deliver/a.las, deliver/b.las." in first.sentence
    assert describe_day(last_time(book)) in first.sentence
    assert result.step == NextStep(
        "swathbook recheck deliver/a.las deliver/b.las", "once the good bytes are back in place"
    )


def last_time(book: MadeBook) -> str:
    """Return the time of the last recheck."""
    entry = book.writer.last("recheck")
    assert entry is not None
    return entry.time


def test_an_alarm_stays_until_the_file_was_read_again(book: MadeBook) -> None:
    """A recheck of other files does not take it back; one of that file does."""
    audit(book)
    book.write("raw/r.bin", "raw")
    book.register("raw/r.bin")
    book.write("deliver/a.las", "b")
    recheck(book.folder)
    recheck(book.folder, [book.folder / "raw"])
    recheck(book.folder, book_only=True)
    assert read_status(book.folder).state[0].is_alarm
    book.write("deliver/a.las", "a")
    assert read_status(book.folder).state[0].is_alarm
    recheck(book.folder, [book.folder / "deliver"])
    result = read_status(book.folder)
    assert not any(each.is_alarm for each in result.state)
    assert line(result, "last recheck").sentence.endswith(", of deliver: as recorded.")


def test_an_alarm_ends_when_the_new_bytes_are_entered(book: MadeBook) -> None:
    """A delivery that was changed on purpose and audited again is no alarm any more."""
    audit(book)
    book.write("deliver/a.las", "better")
    recheck(book.folder)
    assert read_status(book.folder).state[0].is_alarm
    book.audit("deliver", name="D2")
    assert not read_status(book.folder).state[0].is_alarm


def test_an_alarm_ends_when_a_delivery_goes_on_without_the_file(book: MadeBook) -> None:
    """A tile that was taken out, and the folder audited without it, is missing no longer."""
    audit(book)
    (book.folder / "deliver/a.las").unlink()
    recheck(book.folder)
    assert read_status(book.folder).state[0].is_alarm
    book.audit("deliver", name="D2")
    assert not read_status(book.folder).state[0].is_alarm


def test_a_copy_that_is_gone_while_its_bytes_are_safe_is_no_alarm(
    book: MadeBook, tmp_path: Path
) -> None:
    """A second place that was only ever come across may go: nothing is lost."""
    book.write("raw/r.bin", "raw")
    book.register("raw/r.bin")
    place = tmp_path / "elsewhere.bin"
    book.sight(replace(book.see("raw/r.bin"), path=place.as_posix()))
    assert recheck(book.folder).state_ok
    assert not any(each.is_alarm for each in read_status(book.folder).state)


def test_a_broken_book_is_the_first_line(book: MadeBook) -> None:
    """What a recheck found of the book itself is told although no entry could say it."""
    keep_broken_note(book.folder, "entry 3 does not fit the tree")
    first = read_status(book.folder).state[0]
    assert first.is_alarm
    assert first.sentence.startswith("The book is broken, found on ")
    assert first.sentence.endswith(": entry 3 does not fit the tree.")


def test_blanks_cost_what_the_last_audit_said(book: MadeBook) -> None:
    """The number of blanks and the checks they limit come from the last audit."""
    blanks = [
        {"field": "run.lever_arm", "checks": ["lever-arm"]},
        {"field": "run.geoid_file", "checks": ["geoid-file", "lever-arm"]},
    ]
    audit(book, blanks=blanks)
    assert line(read_status(book.folder), "blanks").sentence == (
        "2 values blank at D1, which limits 2 checks: geoid-file, lever-arm."
    )


def test_many_limited_checks_are_counted(book: MadeBook) -> None:
    """The audit lists them all; here the first few and their number do."""
    audit(book, blanks=[{"field": "run.version", "checks": [f"check-{n}" for n in range(5)]}])
    assert line(read_status(book.folder), "blanks").sentence == (
        "1 value blank at D1, which limits 5 checks: check-0, check-1, check-2 and 2 more."
    )


def test_blanks_of_accepted_runs_are_counted_before_any_audit(book: MadeBook) -> None:
    """Without an audit the blanks of accepted runs are counted; those of rejected ones are not."""
    process(book, "out/a.las", decision="rejected")
    assert "blanks" not in [line.topic for line in read_status(book.folder).state]
    process(book, "out/b.las", values={"run.geoid_name": known("none")})
    said = line(read_status(book.folder), "blanks").sentence
    assert "values blank in accepted runs" in said


def test_a_run_on_what_a_run_made_has_no_blank_of_a_capture(book: MadeBook) -> None:
    """A cleaning recorded as a run adds no mount mode to what is blank."""
    process(book, "out/a.las", values=dict.fromkeys(CAPTURE_SETTINGS, known("x")))
    said = line(read_status(book.folder), "blanks").sentence
    process(book, "out/b.las", inputs=[book.use("out/a.las")])
    assert line(read_status(book.folder), "blanks").sentence == said
    process(book, "out/c.las")
    assert line(read_status(book.folder), "blanks").sentence != said


def test_the_next_thing_follows_the_order_of_the_work(book: MadeBook) -> None:
    """Of several things that wait, the earliest in the work is named first."""
    process(book, "out/a.las", decision="undecided")
    book.write("raw/a.bin", "raw")
    assert read_status(book.folder).step.command == "swathbook register raw --flight F1"
    book.register("raw/a.bin")
    assert read_status(book.folder).step.command.startswith("swathbook record decision R1")
    book.write("out/b.las", "new")
    assert read_status(book.folder).step.command == "swathbook record"


def test_thousands_of_outputs_take_less_than_two_seconds(book: MadeBook) -> None:
    """Three thousand recorded outputs and an audit of them are looked over in under 2 s of work."""
    names = [f"out/tile_{number:05d}.las" for number in range(3000)]
    process(book, *names)
    book.audit("out")
    book.close()
    begun = time.process_time()
    result = read_status(book.folder)
    taken = time.process_time() - begun
    assert line(result, "outputs").sentence.startswith("All 3,000")
    assert taken < 2.0
