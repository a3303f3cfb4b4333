"""The bare command on audits, alarms of rechecks and what blanks cost."""

from __future__ import annotations

import os
import shutil
import time
from dataclasses import replace
from pathlib import Path

import pytest
from made_book import MadeBook, known
from status_lines import line, process

from ledger.auditentry import write_finding
from ledger.canonical import compute_digest, encode
from ledger.model.fields import CAPTURE_SETTINGS
from ledger.model.finding import Finding, Grade, Outcome
from ledger.model.lineage import describe_day
from ledger.model.nextstep import NextStep
from ledger.model.typed import quote_path
from ledger.recheck import recheck
from ledger.rechecked import keep_broken_note
from ledger.status import read_status


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


def test_a_specification_that_cannot_be_read_is_an_alarm(book: MadeBook) -> None:
    """A slip in `job.toml` is told by the bare command, with its line, before an audit stumbles.

    Nobody knows then how many copies are asked for: no card is cleared meanwhile.
    """
    book.write("raw/a.bin", "capture")
    book.register("raw/a.bin")
    record = book.see("raw/a.bin", "capture")
    for drive in ("D1", "D2"):
        book.sight(replace(record, path=f"/media/u/{drive}/a.bin"), reread=True)
    card = next(each for each in read_status(book.folder).state if each.topic == "card")
    assert card.sentence.startswith("The card may be cleared")
    book.write("job.toml", "[folders]\ncopies = 3\n\n[coordinates]\nepoch = 2010,0\n")
    result = read_status(book.folder)
    first = result.state[0]
    assert first.is_alarm
    assert first.sentence.startswith("job.toml line 5: a number is written with a comma")
    assert result.step == NextStep("swathbook", "once job.toml is put right")
    card = next(each for each in result.state if each.topic == "card")
    assert card.sentence.startswith("Do not clear the card: job.toml cannot be read")
    assert result.copies is not None
    assert not result.copies.card_may_be_cleared
    book.write("job.toml", "[coordinates]\nepoch = 2010.0\n")
    assert not read_status(book.folder).state[0].is_alarm


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
