"""Twelve faults in one delivery, read by somebody tired: each says at once what to do."""

from __future__ import annotations

import re

import pytest
from job_bench import make_bench
from printed import hold_golden, print_screen
from twelve_faults import FAULTS, Planted, make_job

from ledger.audit.running import audit_folder
from ledger.model.ask import NoProgress
from ledger.model.audit import AuditOptions, AuditResult
from ledger.model.finding import Finding
from ledger.report.audit import make_screen

# What differs from one making of the job to the next: digests, days, and how long it took.
_CHANGING = (
    (
        r"\b[0-9a-f]{4}(\s)[0-9a-f]{4}(\s)[0-9a-f]{4}(\s)[0-9a-f]{4}\b",
        r"0000\g<1>0000\g<2>0000\g<3>0000",
    ),
    (r"(finding    )[0-9a-f]{12}", r"\g<1>000000000000"),
    (r"\d+\.\d s,", "1.0 s,"),
    (r"rejected on \d+ \w+ \d{4}", "rejected on 14 May 2026"),
    (r"\d+\.\d\d kB", "500.00 kB"),
    # What grows with every check that is added.
    (r"criteria applied: \d+", "criteria applied: 100"),
    (r"\d+ results (conform|of)", r"200 results \1"),
    (r"results of \d+ checks", "results of 60 checks"),
)


@pytest.fixture(scope="module")
def result(tmp_path_factory: pytest.TempPathFactory) -> AuditResult:
    """Return the audit of the whole job."""
    bench = make_bench(tmp_path_factory)
    make_job(bench)
    options = AuditOptions(quick=False, by="")
    return audit_folder(bench.job, bench.job / "deliver", options, NoProgress())


def _is_about(finding: Finding, fault: Planted) -> bool:
    about = (finding.subject, finding.where.file)
    return fault.failure in finding.catalogue and fault.subject in about


@pytest.mark.parametrize("fault", FAULTS, ids=lambda fault: fault.name)
def test_each_fault_is_named_with_its_remedy(result: AuditResult, fault: Planted) -> None:
    """A finding about the right run or tile carries the failure, and one thing to do."""
    about = [each for each in result.open_findings if each.grade and _is_about(each, fault)]
    assert about
    assert all(each.remedy for each in about)


def test_nothing_else_is_said_against_the_delivery(result: AuditResult) -> None:
    """What is no observation is about one of the faults."""
    strange = [
        each.sentence
        for each in result.open_findings
        if each.grade in ("major", "minor") and not any(_is_about(each, one) for one in FAULTS)
    ]
    assert strange == []


@pytest.mark.parametrize("width", [80, 120])
def test_the_screen(result: AuditResult, width: int, request: pytest.FixtureRequest) -> None:
    """What is to be done stands once more at the end, run by run and tile by tile."""
    shown = print_screen(make_screen(result), width)
    for pattern, instead in _CHANGING:
        shown = re.sub(pattern, instead, shown)
    hold_golden(f"audit-twelve-{width}", shown, request)


def test_the_end_of_the_screen_says_every_remedy(result: AuditResult) -> None:
    """Whoever has scrolled past all findings need not scroll back."""
    work = " ".join(print_screen(make_screen(result), 100).rpartition("What to do")[2].split())
    for each in result.open_findings:
        if each.grade in ("major", "minor"):
            assert each.remedy.strip(".") in work
