"""The bare command: where the job stands, from a made book and the files beside it."""

from __future__ import annotations

import os
import time
from pathlib import Path

import pytest
from made_book import MadeBook, known

from ledger.auditentry import write_finding
from ledger.canonical import compute_digest, encode
from ledger.model.finding import Finding, Grade, Outcome
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
    assert result.next == "swathbook start FOLDER"


def test_a_new_job_waits_for_raw_files(book: MadeBook) -> None:
    """After start, nothing is registered, and that is the next thing."""
    book.write("job.toml", '[folders]\nraw = "field"\n')
    result = read_status(book.folder)
    assert result.job == book.folder
    assert line(result, "job").sentence == "QM-0412, Borrow pit; its book holds 1 entry."
    assert line(result, "raw data").sentence == "No raw file is registered."
    assert result.next == "swathbook register field"


def test_the_job_is_called_what_its_job_toml_says(book: MadeBook) -> None:
    """Names that were filled in after the start count; without them those of the start do."""
    book.write(
        "job.toml", "[job]\nreference = 'QM-9'\nsite = 'Quillmarsh'\nclient = 'Aggregates'\n"
    )
    sentence = line(read_status(book.folder), "job").sentence
    assert sentence.startswith("QM-9, at Quillmarsh, for Aggregates; its book holds ")
    book.write("job.toml", "[job\n")
    assert line(read_status(book.folder), "job").sentence.startswith("QM-0412, Borrow pit;")


def test_registered_files_are_counted_and_the_card_is_not_cleared(book: MadeBook) -> None:
    """Number and bytes of raw files are told, and that the card must not be cleared."""
    book.write("raw/a.bin", "x" * 1500)
    book.write("raw/b.bin", "y" * 500)
    book.register("raw/a.bin")
    book.register("raw/b.bin")
    said = line(read_status(book.folder), "raw data")
    assert said.sentence == ("2 files, 2.00 kB, registered. One copy known: do not clear the card.")
    assert said.next == ""


def test_a_flight_without_card_waits(book: MadeBook) -> None:
    """An empty flight is named until its card is entered."""
    book.card("flight", "F1")
    assert line(read_status(book.folder), "flights").next == "swathbook record flight F1"
    book.card("flight", "F1", {"flight.mount_mode": known("drone")})
    said = line(read_status(book.folder), "flights")
    assert (said.sentence, said.next) == ("1 flight.", "")


def test_outputs_without_a_run_are_listed(book: MadeBook) -> None:
    """Point and raster files that no run explains are named; a document beside them is not."""
    process(book, "out/a.las")
    book.write("out/b.laz", "new")
    book.write("out/log.txt", "text")
    said = line(read_status(book.folder), "outputs")
    assert said.sentence == "1 file in out is explained by no run: out/b.laz."
    assert said.next == "swathbook record"
    book.run("out/b.laz")
    said = line(read_status(book.folder), "outputs")
    assert (said.sentence, said.next) == (
        "All 2 point and raster files in out have their run.",
        "",
    )


def test_an_output_that_was_only_seen_is_not_explained(book: MadeBook) -> None:
    """A file that the book saw and no run made stays on the list."""
    book.write("out/a.las", "a")
    book.sight(book.see("out/a.las"))
    assert "explained by no run: out/a.las" in line(read_status(book.folder), "outputs").sentence


def test_an_output_that_changed_since_it_was_recorded_is_listed(book: MadeBook) -> None:
    """Another size or another time brings a recorded output back onto the list."""
    process(book, "out/a.las", "out/b.las")
    book.write("out/a.las", "more than before")
    os.utime(book.folder / "out/b.las", ns=(1, 1))
    said = line(read_status(book.folder), "outputs")
    assert said.sentence == "2 files in out are explained by no run: out/a.las, out/b.las."


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
    assert said.next == 'swathbook record decision R1 accepted --reason "…"'
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
    """A changed time, a changed size, a missing and an added file each end the last audit."""
    audit(book)
    said = line(read_status(book.folder), "last audit")
    assert said.sentence.startswith("D1, deliver, 14 May 2026: fit to send.")
    assert "still has the size and time" in said.sentence
    assert said.next == ""

    tile = book.folder / "deliver/a.las"
    noted = tile.stat().st_mtime_ns
    os.utime(tile, ns=(noted, noted + 10**9))
    said = line(read_status(book.folder), "last audit")
    assert "It holds no longer: 1 file changed." in said.sentence
    assert said.next == "swathbook audit deliver"
    os.utime(tile, ns=(noted, noted))
    assert line(read_status(book.folder), "last audit").next == ""

    tile.unlink()
    book.write("deliver/b.las", "longer")
    book.write("deliver/c.las", "c")
    assert "1 file changed, 1 file gone, 1 file added" in (
        line(read_status(book.folder), "last audit").sentence
    )


def test_an_audit_against_another_specification_holds_no_longer(book: MadeBook) -> None:
    """Where job.toml changed after the audit, the audit is over."""
    book.write("job.toml", "# first\n")
    audit(book)
    assert line(read_status(book.folder), "last audit").next == ""
    book.write("job.toml", "# second\n")
    assert "job.toml changed" in line(read_status(book.folder), "last audit").sentence


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
    assert "send only with acceptance, 0 of 2 accepted." in said.sentence
    accept(book, minor[0])
    said = line(read_status(book.folder), "last audit")
    assert "send only with acceptance, 1 of 2 accepted." in said.sentence
    assert said.next == "swathbook audit deliver"
    accept(book, minor[1])
    said = line(read_status(book.folder), "last audit")
    assert "fit to send, 2 of 2 accepted." in said.sentence
    assert said.next == ""


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
    assert "1 file could not be read" in said.sentence


def test_a_bad_verdict_leaves_something_to_do(book: MadeBook) -> None:
    """After an audit that says not to send, auditing again is what waits."""
    audit(book, verdict="do not send")
    assert line(read_status(book.folder), "last audit").next == "swathbook audit deliver"


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


def test_blanks_of_accepted_runs_are_counted_before_any_audit(book: MadeBook) -> None:
    """Without an audit the blanks of accepted runs are counted; those of rejected ones are not."""
    process(book, "out/a.las", decision="rejected")
    assert "blanks" not in [line.topic for line in read_status(book.folder).state]
    process(book, "out/b.las", values={"run.geoid_name": known("none")})
    said = line(read_status(book.folder), "blanks").sentence
    assert "values blank in accepted runs" in said


def test_the_next_thing_follows_the_order_of_the_work(book: MadeBook) -> None:
    """Of several things that wait, the earliest in the work is named first."""
    process(book, "out/a.las", decision="undecided")
    book.write("raw/a.bin", "raw")
    assert read_status(book.folder).next == "swathbook register raw"
    book.register("raw/a.bin")
    assert read_status(book.folder).next.startswith("swathbook record decision R1")
    book.write("out/b.las", "new")
    assert read_status(book.folder).next == "swathbook record"


def test_thousands_of_outputs_take_less_than_two_seconds(book: MadeBook) -> None:
    """Three thousand recorded outputs and an audit of them are looked over in under 2 s."""
    names = [f"out/tile_{number:05d}.las" for number in range(3000)]
    process(book, *names)
    book.audit("out")
    book.close()
    begun = time.perf_counter()
    result = read_status(book.folder)
    taken = time.perf_counter() - begun
    assert line(result, "outputs").sentence.startswith("All 3000")
    assert taken < 2.0
