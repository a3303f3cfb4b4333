"""The sheet that goes with a folder: what it has to print, on one page."""

from __future__ import annotations

import html
from dataclasses import replace
from pathlib import Path

from browser import count_printed_pages
from job_bench import run_here
from sent_folders import MINOR, enter_audit, send

from ledger.handover.package import Package, Wishes
from ledger.model.figure import Figure
from ledger.model.finding import Finding, Outcome
from ledger.report.sheet_page import make_sheet
from ledger.testing.books import BookBuilder


def test_the_sheet_prints_what_it_has_to(book: BookBuilder) -> None:
    """Job, revision, files, records with how they are known, root, cautions; markup is text."""
    enter_audit(book, points=1234)
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
    enter_audit(book, MINOR)
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
