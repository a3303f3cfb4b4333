"""Handing over: what is refused, what is entered, and what is written."""

from __future__ import annotations

import html
import json
import re
import shutil
import subprocess
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from browser import count_printed_pages
from job_bench import run_here
from made_book import MadeBook, known

from ledger.auditentry import write_finding
from ledger.canonical import compute_digest, encode
from ledger.errors import UsageError
from ledger.handover import hand_over
from ledger.handover.manifest import write_manifest
from ledger.handover.package import HandoverResult, Listed, Package, Wishes
from ledger.model.entry import Kind
from ledger.model.figure import Figure
from ledger.model.finding import Finding, Grade, Outcome
from ledger.report.sheet_page import make_sheet
from ledger.store.reading import Book
from ledger.testing.books import BookBuilder

MINOR = Finding(
    check="gaps",
    outcome=Outcome.NONCONFORMING,
    grade=Grade.MINOR,
    subject="tile_1.las",
    sentence="Line 6 was flown 14 s without a fixed position.",
    remedy="Fly it again.",
)
MAJOR = Finding(
    check="stale",
    outcome=Outcome.NONCONFORMING,
    grade=Grade.MAJOR,
    subject="tile_2.las",
    sentence="tile_2.las was made by a rejected run.",
    remedy="Replace it.",
)
WISHES = Wishes(to="client engineer", use="volumes, May")


@pytest.fixture
def book(tmp_path: Path) -> BookBuilder:
    """Give a job with three tiles that a run made, in a folder to be delivered."""
    made = MadeBook(tmp_path / "job")
    for number in range(3):
        made.write(f"out/tile_{number}.las", f"tile {number}")
    values = {
        "run.software": known("demo-proc"),
        "run.crs": known("EPSG:6346"),
        "run.mount_mode": known("drone"),
    }
    made.run(*(f"out/tile_{number}.las" for number in range(3)), values=values)
    shutil.copytree(made.folder / "out", made.folder / "deliver")
    return made


def audit(book: BookBuilder, *findings: Finding, **values: Any) -> None:
    """Enter an audit of the folder with these findings, and close the book."""
    content = encode([write_finding(finding) for finding in findings])
    verdict = "fit to send"
    if findings:
        verdict = "do not send" if MAJOR in findings else "send only with acceptance"
    book.audit(
        "deliver",
        verdict=str(values.pop("verdict", verdict)),
        blobs=(content,),
        findings=compute_digest(content),
        **values,
    )
    book.close()


def no_papers(package: Package) -> Mapping[str, bytes]:
    """Make no paper but the manifest."""
    return {}


def send(book: BookBuilder, wishes: Wishes = WISHES) -> HandoverResult:
    """Hand the folder over."""
    return hand_over(book.folder, book.folder / "deliver", wishes, no_papers)


def list_entries(book: BookBuilder) -> list[str]:
    """Return the kinds of all entries."""
    with Book.open(book.folder) as opened:
        return [entry.kind for entry in opened.entries()]


def test_a_folder_that_is_fit_to_send_goes_out(book: BookBuilder) -> None:
    """A transmittal is entered, and the manifest lies in the job, not in the delivery."""
    audit(book)
    before = sorted(path.name for path in (book.folder / "deliver").iterdir())
    result = send(book)
    assert result.package is not None
    assert (result.package.id, result.package.wishes.revision) == ("H1", "1")
    assert list_entries(book)[-2:] == [Kind.DELIVERABLE, Kind.TRANSMITTAL]
    assert sorted(path.name for path in (book.folder / "deliver").iterdir()) == before
    assert [path.name for path in (book.folder / "handover/1").iterdir()] == list(result.written)
    with Book.open(book.folder) as opened:
        assert opened.root == result.package.root


def test_what_a_standard_program_says_of_the_manifest(book: BookBuilder) -> None:
    """GNU sha256sum verifies it, odd names too, and finds a changed byte."""
    for name in ("größe, 1.txt", "a\\b.txt", "two\nlines.txt"):
        (book.folder / "deliver" / name).write_text(name, encoding="utf-8")
    audit(book)
    send(book)
    words = ["sha256sum", "--check", "--strict", "../handover/1/manifest-sha256.txt"]
    folder = book.folder / "deliver"
    ran = subprocess.run(words, cwd=folder, capture_output=True, text=True, check=False)
    assert (ran.returncode, ran.stdout.count("OK")) == (0, 6), ran.stderr
    (folder / "tile_1.las").write_text("tile x", encoding="utf-8")
    ran = subprocess.run(words, cwd=folder, capture_output=True, text=True, check=False)
    assert ran.returncode == 1
    # Whatever the language calls what failed, what fits is OK.
    failed = [line for line in ran.stdout.splitlines() if not line.endswith(": OK")]
    assert [line.partition(":")[0] for line in failed] == ["tile_1.las"]


def test_a_line_of_the_manifest_has_the_published_digest() -> None:
    """SHA-256 of nothing, as FIPS 180-4 gives it: recomputed; two blanks before the name."""
    digest = compute_digest(b"")
    assert write_manifest([Listed("a b.txt", digest, 0)]) == (
        b"e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855  a b.txt\n"
    )


@pytest.mark.parametrize("finding", [MINOR, MAJOR])
def test_what_the_audit_does_not_allow_is_refused(book: BookBuilder, finding: Finding) -> None:
    """Nothing is entered and nothing written; the sentence gives verdict and number."""
    audit(book, finding)
    kinds = list_entries(book)
    result = send(book)
    assert result.package is None
    assert [str(finding.grade) in sentence for sentence in result.refused] == [True]
    assert list_entries(book) == kinds
    assert not (book.folder / "handover").exists()


def test_an_accepted_minor_goes_out_and_stands_on_the_sheet(book: BookBuilder) -> None:
    """With who took it and why."""
    audit(book, MINOR)
    words = ["accept", MINOR.id, "--by", "site engineer", "--reason", "overlap was looked at"]
    assert run_here(words, book.folder).status == 0
    result = send(book)
    assert result.package is not None
    text = html.unescape(make_sheet(result.package).decode())
    assert f"{MINOR.sentence} Accepted by site engineer: overlap was looked at" in text


def test_despite_needs_words_and_stands_on_the_sheet(book: BookBuilder) -> None:
    """A major goes out only with a reason, and the sheet names finding, person and reason."""
    audit(book, MAJOR)
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
    audit(book)
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
    audit(book, quick=True)
    result = send(book, Wishes("client", "x", despite="never mind"))
    assert result.package is None
    assert "quick" in result.refused[0]


def test_a_record_that_was_amended_since_ends_the_audit(book: BookBuilder) -> None:
    """What was audited is no longer what the book says."""
    audit(book)
    words = ["amend", "R1", "--set", "mount_mode=hand", "--reason", "typing error"]
    assert run_here(words, book.folder).status == 0
    result = send(book)
    assert result.package is None
    assert "more was recorded of R1" in result.refused[0]


def test_revisions_and_what_they_replace(book: BookBuilder) -> None:
    """Each to the same recipient replaces the last, unless something else is said."""
    audit(book)
    first = send(book)
    second = send(book, Wishes("client engineer", "a second use"))
    other = send(book, Wishes("modeller", "tiles"))
    own = send(book, Wishes("client engineer", "again", revision="B.2", supersedes="none"))
    packages = [each.package for each in (first, second, other, own)]
    told = [(p.id, p.wishes.revision, p.wishes.supersedes) for p in packages if p is not None]
    assert told == [("H1", "1", ""), ("H2", "2", "H1"), ("H3", "3", ""), ("H4", "B.2", "")]


def test_the_same_again_writes_lost_papers_and_enters_nothing(book: BookBuilder) -> None:
    """Papers that could not be written, or were deleted, come from the entry that stands."""
    audit(book)
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
    audit(book)
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
    audit(book)
    kinds = list_entries(book)
    with pytest.raises(UsageError, match=re.escape(told)):
        send(book, wishes)
    assert list_entries(book) == kinds


def test_the_sheet_prints_what_it_has_to(book: BookBuilder) -> None:
    """Job, revision, files, records with how they are known, root, cautions; markup is text."""
    audit(book, points=1234)
    result = send(book, Wishes("client <b>engineer</b>", "volumes", limits="not for design"))
    assert result.package is not None
    page = make_sheet(result.package).decode()
    text = html.unescape(page)
    assert "<b>" not in page
    for words in (
        "client <b>engineer</b>",
        "3 files",
        "1,234 points",
        "not for design",
        "EPSG:6346 (typed): R1",
        "drone (typed): R1",
        "not recorded",
        "not verified against ground",
        "it does not certify",
        result.package.root.hex()[:4],
    ):
        assert words in text, words
    assert "http" not in page


def test_commands(book: BookBuilder) -> None:
    """Handed over with 0, refused with 1, never audited with 2."""
    audit(book)
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
    audit(book)
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


def crowd(package: Package) -> Package:
    """Return a package as full as can be: long names, many runs, forty of each list."""
    words = "between the haul road and the northern stockpile, where the crane stood in May, "
    (stored, acceptance) = package.accepted[0]
    many = [
        replace(
            stored,
            id=f"{number:012x}",
            finding=replace(stored.finding, sentence=f"tile_{number}.las: {words * 2}"),
        )
        for number in range(120)
    ]
    gaps = [
        replace(
            each,
            finding=Finding(
                f"check-{number}",
                Outcome.NOT_ASSESSED,
                "out",
                words,
                needs=(f"input-{number}: {words}",),
            ),
        )
        for number, each in enumerate(many[80:])
    ]
    values = tuple(f"demo-proc, 4.{number}.0, {words}(typed): R{number}" for number in range(30))
    figures = [Figure(f"f-{n}", "Accuracy", f"Vertical RMSE 0.02{n} m {words}") for n in range(8)]
    return replace(
        package,
        job=("QM-0412-" + "x" * 60, words * 3),
        wishes=replace(package.wishes, use=words * 3, limits=words * 3, despite=words * 3),
        audit=replace(package.audit, findings=(*many[:80], *gaps)),
        accepted=tuple((each, replace(acceptance, reason=words)) for each in many[:40]),
        facts=tuple(replace(fact, values=values, wanted=words * 2) for fact in package.facts),
        figures=tuple(figures),
    )


def test_the_sheet_is_one_page_of_a4_however_much_there_is(
    book: BookBuilder, tmp_path: Path
) -> None:
    """Forty accepted findings, thirty runs and long names are told short, with how many more."""
    audit(book, MINOR)
    words = ["accept", MINOR.id, "--by", "site engineer", "--reason", "overlap was looked at"]
    assert run_here(words, book.folder).status == 0
    package = send(book).package
    assert package is not None
    page = tmp_path / "sheet.html"
    page.write_bytes(make_sheet(crowd(package)))
    assert count_printed_pages(page, tmp_path) == 1
    text = html.unescape(page.read_text(encoding="utf-8"))
    assert "39 more stand in the report" in text
    assert "; 29 more (report)" in text

    ((stored, acceptance),) = package.accepted
    reason = "lines 5 and 7 were laid over it at six places of hard ground, " * 4
    few = replace(package, accepted=((stored, replace(acceptance, reason=reason)),))
    page.write_bytes(make_sheet(few))  # where there is room, nothing is cut
    assert count_printed_pages(page, tmp_path) == 1
    assert reason.strip() in html.unescape(page.read_text(encoding="utf-8"))
