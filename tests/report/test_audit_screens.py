"""How an audit is laid out: the verdict at both ends, findings in groups, gaps with a reason."""

from __future__ import annotations

import io
import re
from dataclasses import replace

import pytest
from audit_results import DIGEST, make_result
from printed import hold_golden, print_screen

from ledger.model.acceptance import Acceptance
from ledger.model.audit import AuditResult, CheckFacts, Plugin
from ledger.model.blanks import Blank
from ledger.model.document import AppliedProfile, NotTested
from ledger.model.finding import Finding, Grade, Outcome, Where, compute_sort_key
from ledger.model.verdict import Verdict
from ledger.report.audit import make_screen
from ledger.report.screen import make_console

PLUGIN = Plugin("swathbook", "0.1.0", DIGEST, "lidar_checks")


def make_stale(tile: str) -> Finding:
    """Return the finding of a tile from a rejected run, with a remedy that names the tile."""
    return Finding(
        "custody-of-points",
        Outcome.NONCONFORMING,
        tile,
        f"{tile} was made by run R1, which was rejected.",
        grade=Grade.MAJOR,
        observed="run R1, rejected",
        required="accepted runs and steps all the way back to the capture",
        criterion_source="common practice, no source",
        remedy=f"replace it with out/R2/{tile} of run R2",
        catalogue=("RH-02",),
        where=Where(file=tile),
    )


def make_thin(tile: str, found: str) -> Finding:
    """Return the finding of a thin tile; what is found differs, what is required does not."""
    return Finding(
        "point-density",
        Outcome.NONCONFORMING,
        tile,
        f"{tile} is thin.",
        grade=Grade.MINOR,
        observed=found,
        required="4.0",
        unit="points/m²",
        criterion_source="job.toml",
        remedy="fly it again",
        where=Where(file=tile, xy=(552120.0, 4272200.0)),
    )


def make_gap(check: str, outcome: Outcome, sentence: str, **parts: object) -> Finding:
    """Return what a check could not say."""
    return Finding(check, outcome, "delivery", sentence, **parts)  # type: ignore[arg-type]


DATUM = make_gap(
    "vertical-datum",
    Outcome.NOT_ASSESSED,
    "a.las: nothing says which heights these are.",
    needs=("specification.coordinates.vertical", "run.vertical_datum"),
)
SEAMS = make_gap("seams", Outcome.INCONCLUSIVE, "b.las lies alone.", remedy="look at the place")
FINE = Finding("classification", Outcome.CONFORMS, "a.las", "All classes are allowed.")


# An audit of a usual size.
USUAL = {
    "verdict": Verdict.DO_NOT_SEND,
    "files": 24,
    "bytes": 9_100_000,
    "points": 1_026_913,
    "seconds": 2.1,
    "checks": (
        CheckFacts("vertical-datum", "Heights", (), 1, PLUGIN, required="always"),
        CheckFacts("seams", "No steps", (), 1, PLUGIN),
    ),
}


def make_usual(*findings: Finding, **parts: object) -> AuditResult:
    """Return such an audit with these findings."""
    return make_result(*findings, **{**USUAL, **parts})


def show(*findings: Finding, everything: bool = False, width: int = 80, **parts: object) -> str:
    """Return the screen of an audit."""
    return print_screen(make_screen(make_usual(*findings, **parts), everything=everything), width)


MIXED = (
    make_stale("tile_14.laz"),
    make_thin("tile_01.laz", "3.1"),
    make_thin("tile_02.laz", "2.7"),
    DATUM,
    SEAMS,
    FINE,
)


@pytest.mark.parametrize("width", [80, 120])
def test_a_whole_audit(width: int, request: pytest.FixtureRequest) -> None:
    """Verdict, counts, findings, gaps, blanks and foot, as somebody read them."""
    blank = Blank("coordinates.vertical", ("vertical-datum",))
    shown = show(*MIXED, width=width, blanks=(blank,))
    assert max(map(len, shown.splitlines())) <= width
    hold_golden(f"audit-{width}", shown, request)


def test_an_audit_by_a_document(request: pytest.FixtureRequest) -> None:
    """What the document also asks for is listed, and counted beside the last verdict."""
    profile = AppliedProfile(
        "rule-a",
        "Rule of thumbs",
        "2nd edition, A",
        DIGEST,
        plugin="swathbook",
        not_tested=(
            NotTested("an RMSEz of at most 0.100 m at 30 checkpoints or more", "7.13", "document"),
            NotTested("a 95th percentile of at most 0.30 m in vegetation", "8", "memory"),
        ),
    )
    shown = show(FINE, verdict=Verdict.FIT_TO_SEND, profile=profile)
    assert "also asks for 2 things not tested here" in shown
    hold_golden("audit-document", shown, request)


def test_the_verdict_stands_at_both_ends_with_the_counts() -> None:
    """Nobody has to scroll for the answer."""
    lines = show(*MIXED).splitlines()
    assert lines[0] == "Do not send: deliver"
    assert lines[1] == "1 major, 2 minor, 1 required check open; 1 result conforms."
    assert lines.count("Do not send: deliver") == 2


def test_a_required_gap_stands_before_minor_findings() -> None:
    """What keeps the verdict from being any better is not buried below what can be accepted."""
    shown = show(*MIXED)
    places = [shown.index(word) for word in ("Major:", "Required, and", "Minor:", "Could not be")]
    assert places == sorted(places)


def test_each_finding_says_what_where_against_what_and_what_to_do() -> None:
    """Found, required, place, criterion, remedy and id stand in rows of their own."""
    shown = show(make_thin("tile_01.laz", "3.1"))
    for row in (
        r"found +3\.1 points/m²",
        r"required +4\.0 points/m²",
        r"where +552120\.0, 4272200\.0",
        r"criterion +job\.toml",
        r"do this +Fly it again\.",
        r"finding +[0-9a-f]{12}, point-density",
    ):
        assert re.search(rf"^ +{row}$", shown, re.MULTILINE), row


def test_what_findings_share_is_said_once() -> None:
    """Two thin tiles have a density each, and one criterion and one remedy together."""
    shown = show(make_thin("tile_01.laz", "3.1"), make_thin("tile_02.laz", "2.7"))
    assert "Both of these:" in shown
    assert [shown.count(word) for word in ("found  ", "required  ", "do this  ")] == [2, 1, 1]


def test_a_remedy_that_names_one_file_is_not_told_of_another() -> None:
    """Each of four stale tiles is to be replaced by its own namesake."""
    shown = show(*(make_stale(f"tile_{number}.laz") for number in range(1, 7)))
    assert "Replace it with out/R2/FILE of run R2." in shown
    assert "out/R2/tile_1.laz" not in shown
    alone = show(make_stale("tile_1.laz"))
    assert "Replace it with out/R2/tile_1.laz of run R2." in alone


def test_an_acceptance_stands_at_its_finding_and_in_the_counts() -> None:
    """Of two minor findings one is taken; who took it and why stands with it alone."""
    one, two = make_thin("tile_01.laz", "3.1"), make_thin("tile_02.laz", "2.7")
    taken = Acceptance(one.id, "site engineer", "a pond", 8)
    shown = show(one, two, accepted={one.id: taken})
    assert "2 minor (1 accepted)" in shown
    assert shown.count("by the site engineer: a pond") == 1
    assert shown.index("a pond") < shown.index("tile_02.laz")


def test_a_gap_says_its_reason_and_what_would_change_that() -> None:
    """A missing input is named, a remedy is told, and the name of a file keeps its letters."""
    shown = " ".join(show(DATUM, SEAMS).split())
    assert "a.las: nothing says which heights these are." in shown
    assert "missing coordinates.vertical or run.vertical_datum" in shown
    assert "specification." not in shown  # keys stand there as they are written in job.toml
    assert "b.las lies alone. do this Look at the place." in shown


def test_what_conforms_is_a_count_until_it_is_asked_for() -> None:
    """A line says how many results conform and how to see them."""
    assert "Conforms: 1 result of 1 check: --all." in show(FINE)
    assert "All classes are allowed." not in show(FINE)
    assert "classification: All classes are allowed." in show(FINE, everything=True)


def test_a_file_gets_no_control_codes_and_no_blanks_at_the_ends_of_lines() -> None:
    """Output that is kept or sent on is plain text."""
    stream = io.StringIO()
    make_console(stream, width=80).print(make_screen(make_usual(*MIXED)))
    shown = stream.getvalue()
    assert "\x1b" not in shown
    assert not [line for line in shown.splitlines() if line.endswith(" ")]


def test_no_colour_is_shown_where_none_is_wanted(monkeypatch: pytest.MonkeyPatch) -> None:
    """NO_COLOR keeps colours off a terminal; the words carry the meaning."""

    class Terminal(io.StringIO):
        def isatty(self) -> bool:
            return True

    monkeypatch.setenv("TERM", "xterm-256color")
    monkeypatch.delenv("NO_COLOR", raising=False)
    monkeypatch.delenv("COLORTERM", raising=False)
    coloured = Terminal()
    make_console(coloured, width=80).print(make_screen(make_usual(*MIXED)))
    assert re.search(r"\x1b\[[0-9;]*3[0-9]", coloured.getvalue())
    monkeypatch.setenv("NO_COLOR", "1")
    plain = Terminal()
    make_console(plain, width=80).print(make_screen(make_usual(*MIXED)))
    assert not re.search(r"\x1b\[[0-9;]*3[0-9]", plain.getvalue())


def test_what_waits_for_a_blank_alone_is_counted_and_the_blank_told() -> None:
    """One list says what is blank; the other does not say it again."""
    missing = make_gap(
        "voids",
        Outcome.NOT_ASSESSED,
        "Missing: criteria.voids.area_min_m2: it is blank.",
        needs=("specification.criteria.voids.area_min_m2",),
    )
    blank = Blank("criteria.voids.area_min_m2", ("voids",))
    shown = show(missing, blanks=(blank,))
    assert "1 check waits only for what is blank, below." in shown
    assert "it is blank" not in shown
    assert "it is blank" in show(missing, blanks=(blank,), everything=True)


def test_gaps_that_one_thing_closes_stand_together() -> None:
    """Each reason stays; what to do is said once."""
    remedy = "register it"
    two = (
        make_gap("clock-offset", Outcome.NOT_ASSESSED, "No two logs.", remedy=remedy),
        make_gap("fix-quality", Outcome.NOT_ASSESSED, "No log.", remedy=remedy),
    )
    assert " ".join(show(*two).split()).count("Register it.") == 1
    assert "No two logs. No log." in show(*two)
    assert show(*two, everything=True).count("Register it.") == 2


def test_findings_about_records_come_first_and_those_of_a_file_together() -> None:
    """What a run was set to makes what is said of its files idle."""
    tile, run = make_stale("tile_1.laz"), replace(make_stale("R2"), where=Where())
    seam = replace(make_stale("tile_1.laz"), check="seams")
    other = replace(make_stale("tile_2.laz"), check="classification")
    ordered = sorted((other, seam, tile, run), key=compute_sort_key)
    assert ordered == [run, tile, seam, other]
