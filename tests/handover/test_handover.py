"""Handing over: what is refused, and what is entered."""

from __future__ import annotations

import html
import json
import re
import shutil

import pytest
from job_bench import run_here
from sent_folders import MAJOR, MINOR, enter_audit, list_entries, send

from ledger.errors import UsageError
from ledger.handover.package import Wishes
from ledger.model.entry import Kind
from ledger.model.finding import Finding
from ledger.report.delivery_page import make_report
from ledger.report.sheet_page import make_sheet
from ledger.store.reading import Book
from ledger.testing.books import BookBuilder


def test_a_folder_that_is_fit_to_send_goes_out(book: BookBuilder) -> None:
    """A transmittal is entered, and the manifest lies in the job, not in the delivery."""
    enter_audit(book)
    before = sorted(path.name for path in (book.folder / "deliver").iterdir())
    result = send(book)
    assert result.package is not None
    assert (result.package.id, result.package.wishes.revision) == ("H1", "1")
    assert list_entries(book)[-2:] == [Kind.DELIVERABLE, Kind.TRANSMITTAL]
    assert sorted(path.name for path in (book.folder / "deliver").iterdir()) == before
    assert [path.name for path in (book.folder / "handover/1").iterdir()] == list(result.written)
    with Book.open(book.folder) as opened:
        assert opened.root == result.package.root


@pytest.mark.parametrize("finding", [MINOR, MAJOR])
def test_what_the_audit_does_not_allow_is_refused(book: BookBuilder, finding: Finding) -> None:
    """Nothing is entered and nothing written; the sentence gives verdict and number."""
    enter_audit(book, finding)
    kinds = list_entries(book)
    result = send(book)
    assert result.package is None
    assert [str(finding.grade) in sentence for sentence in result.refused] == [True]
    assert list_entries(book) == kinds
    assert not (book.folder / "handover").exists()


def test_an_accepted_minor_goes_out_and_stands_on_the_sheet(book: BookBuilder) -> None:
    """With who took it and why."""
    enter_audit(book, MINOR)
    words = ["accept", MINOR.id, "--by", "site engineer", "--reason", "overlap was looked at"]
    assert run_here(words, book.folder).status == 0
    result = send(book)
    assert result.package is not None
    text = html.unescape(make_sheet(result.package).decode())
    assert f"{MINOR.sentence} Accepted by site engineer: overlap was looked at" in text


def test_despite_needs_words_and_stands_on_the_sheet(book: BookBuilder) -> None:
    """A major goes out only with a reason, and the sheet names finding, person and reason."""
    enter_audit(book, MAJOR)
    assert send(book, Wishes("client", "x", despite="  ")).package is None
    wishes = Wishes("client", "x", despite="asked for as it is", by="office")
    result = send(book, wishes)
    assert result.package is not None
    text = html.unescape(make_sheet(result.package).decode())
    assert "Do not send: audit of entry" in text
    assert "Handed over despite this by office: asked for as it is" in text
    assert f"Major: {MAJOR.sentence}" in text
    with Book.open(book.folder) as opened:
        entry = opened.last(Kind.TRANSMITTAL)
    assert entry is not None
    assert (entry.values["open"], entry.values["despite"]) == ([MAJOR.id], "asked for as it is")


@pytest.mark.parametrize("change", ["changed", "missing", "added"])
def test_other_files_than_were_audited_never_go_out(book: BookBuilder, change: str) -> None:
    """Not even with a reason: bytes of the same size and time are read and found."""
    enter_audit(book)
    tile = book.folder / "deliver" / "tile_1.las"
    if change == "changed":
        tile.write_text("tile x", encoding="utf-8")
    elif change == "missing":
        tile.unlink()
    else:
        (tile.parent / "tile_9.las").write_bytes(b"")
    for despite in ("", "never mind"):
        result = send(book, Wishes("client", "x", despite=despite))
        assert result.package is None
        assert "not the files that were audited" in result.refused[0]
        assert change in result.refused[0]


def test_a_quick_audit_is_not_enough(book: BookBuilder) -> None:
    """It read no points; a reason does not change that."""
    enter_audit(book, quick=True)
    result = send(book, Wishes("client", "x", despite="never mind"))
    assert result.package is None
    assert "quick" in result.refused[0]


def test_a_record_that_was_amended_since_ends_the_audit(book: BookBuilder) -> None:
    """What was audited is no longer what the book says."""
    enter_audit(book)
    words = ["amend", "R1", "--set", "mount_mode=hand", "--reason", "typing error"]
    assert run_here(words, book.folder).status == 0
    result = send(book)
    assert result.package is None
    assert "more was recorded of R1" in result.refused[0]
    sent = send(book, Wishes("client", "x", despite="asked for as it is"))
    assert sent.package is not None
    told = "The audit held no longer when this went out: more was recorded of R1"
    assert told in html.unescape(make_sheet(sent.package).decode())
    assert told in html.unescape(make_report(sent.package).decode())


def test_an_audit_that_held_is_not_doubted_on_paper(book: BookBuilder) -> None:
    """What was recorded after it went out says nothing of what was sent."""
    enter_audit(book)
    wishes = Wishes("client", "x", revision="1")
    assert send(book, wishes).package is not None
    words = ["amend", "R1", "--set", "mount_mode=hand", "--reason", "typing error"]
    assert run_here(words, book.folder).status == 0
    again = send(book, wishes)
    assert again.again
    assert again.package is not None
    assert "held no longer" not in html.unescape(make_sheet(again.package).decode())


def test_revisions_and_what_they_replace(book: BookBuilder) -> None:
    """Each to the same recipient replaces the last, unless something else is said."""
    enter_audit(book)
    first = send(book)
    second = send(book, Wishes("client engineer", "a second use"))
    other = send(book, Wishes("modeller", "tiles"))
    own = send(book, Wishes("client engineer", "again", revision="B.2", supersedes="none"))
    packages = [each.package for each in (first, second, other, own)]
    told = [(p.id, p.wishes.revision, p.wishes.supersedes) for p in packages if p is not None]
    assert told == [("H1", "1", ""), ("H2", "2", "H1"), ("H3", "3", ""), ("H4", "B.2", "")]


def test_the_same_again_writes_lost_papers_and_enters_nothing(book: BookBuilder) -> None:
    """Papers that could not be written, or were deleted, come from the entry that stands."""
    enter_audit(book)
    first = send(book)
    shutil.rmtree(book.folder / "handover")
    again = send(book, Wishes("client engineer", "volumes, May", revision="1"))
    assert first.package is not None
    assert again.package is not None
    assert again.again
    assert (again.package.id, again.package.root) == (first.package.id, first.package.root)
    with pytest.raises(UsageError, match="handed over already"):
        send(book, Wishes("somebody else", "volumes, May", revision="1"))


def test_papers_that_cannot_be_written_say_how_they_come_to_be(book: BookBuilder) -> None:
    """The entry stands; the line names it and what to type, and that enters nothing more."""
    enter_audit(book)
    (book.folder / "handover").write_bytes(b"in the way")
    words = ["handover", "deliver", "--to", "client engineer", "--use", "volumes, May"]
    ran = run_here(words, book.folder)
    assert ran.status == 2
    (line,) = ran.lines
    assert "the same command with --revision 1 writes the papers" in line
    assert "(transmittal)" in line
    assert "in the book all the same" in line
    before = list_entries(book)
    (book.folder / "handover").unlink()
    assert run_here([*words, "--revision", "1"], book.folder).status == 0
    assert list_entries(book) == before
    assert (book.folder / "handover" / "1").is_dir()


@pytest.mark.parametrize(
    ("wishes", "told"),
    [
        (Wishes("", "x"), "--to"),
        (Wishes("client", " … "), "--use"),
        (Wishes("client", "x", revision="../up"), "no folder"),
        (Wishes("client", "x", revision="con"), "no folder"),
        (Wishes("client", "x", revision="1."), "no folder"),
        (Wishes("client", "x", supersedes="H9"), "no such transmittal"),
    ],
)
def test_what_cannot_be_said(book: BookBuilder, wishes: Wishes, told: str) -> None:
    """One line says which option, and nothing is entered."""
    enter_audit(book)
    kinds = list_entries(book)
    with pytest.raises(UsageError, match=re.escape(told)):
        send(book, wishes)
    assert list_entries(book) == kinds


def test_commands(book: BookBuilder) -> None:
    """Handed over with 0, refused with 1, never audited with 2."""
    enter_audit(book)
    words = ["handover", "deliver", "--to", "client engineer", "--use", "volumes"]
    ran = run_here(words, book.folder)
    assert ran.status == 0, ran.err
    assert "H1: deliver (3 files) handed over to client engineer, revision 1" in ran.out
    (book.folder / "deliver" / "tile_0.las").unlink()
    ran = run_here([*words, "--json"], book.folder)
    assert ran.status == 1
    assert json.loads(ran.out)["entry"] is None
    ran = run_here(["handover", "out", "--to", "client", "--use", "x"], book.folder)
    assert (ran.status, len(ran.lines)) == (2, 1)
    assert "swathbook audit out" in ran.err


def test_who_was_sent_what_is_answered(book: BookBuilder) -> None:
    """By the saved questions, by the bare command, and none of it before anything went out."""
    enter_audit(book)
    assert "nobody" in run_here(["find", "--ask", "16"], book.folder).out
    lines = json.loads(run_here(["--json"], book.folder).out)["state"]
    told = next(line["next"] for line in lines if line["topic"] == "last audit")
    assert told.startswith("swathbook handover deliver")
    send(book)
    send(book, Wishes("client engineer", "a second use"))
    sent = run_here(["find", "--ask", "16"], book.folder).out
    assert sent.count("to client engineer") == 2
    replaced = " ".join(run_here(["find", "--ask", "17"], book.folder).out.split())
    assert "replaced by H2" in replaced
    told = " ".join(run_here([], book.folder).out.split())
    assert "H2, deliver as revision 2 to client engineer" in told
    steps = {
        line["topic"]: line["next"]
        for line in json.loads(run_here(["--json"], book.folder).out)["state"]
    }
    assert steps["handed over"] == "swathbook seal"
    assert "handover" not in str(steps["last audit"])
    assert run_here(["seal"], book.folder).status == 0
    assert "are sealed" in run_here([], book.folder).out
