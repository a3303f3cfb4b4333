"""What waits in a fresh job: counted by what is missing, and named where somebody asks."""

from __future__ import annotations

from dataclasses import replace

from audit_results import make_result
from printed import print_screen

from ledger.model.blanks import Blank
from ledger.model.finding import Finding, Outcome
from ledger.report.audit import make_screen


def wait(check: str, sentence: str, *needs: str, remedy: str = "") -> Finding:
    """Return the finding of a check that lacks something."""
    return Finding(check, Outcome.NOT_ASSESSED, "delivery", sentence, needs=needs, remedy=remedy)


RECORDS = [wait(f"chain-{n}", "No run is recorded in this job.", "records") for n in range(20)]
KEYS = [
    wait(f"key-{n}", "It is blank.", f"specification.criteria.key-{n}.limit_m: it is blank")
    for n in range(9)
]
ALONE = wait("base-change", "No log says it.", "flight-log", remedy="Register the log")
BLANKS = tuple(Blank(f"run.field_{n}", ("chain-0", "chain-1"), ("R1",)) for n in range(9))


def test_many_checks_that_wait_are_counted_by_what_is_missing() -> None:
    """One row for each thing, the one that most wait for first; a check alone keeps its name."""
    result = replace(make_result(*KEYS, ALONE, *RECORDS), blanks=BLANKS)
    told = print_screen(make_screen(result))
    rows = [line.strip() for line in told.splitlines()]
    records = next(row for row in rows if row.startswith("20 checks"))
    keys = next(row for row in rows if row.startswith("9 checks"))
    alone = next(row for row in rows if row.startswith("base-change"))
    assert rows.index(records) < rows.index(keys) < rows.index(alone)
    assert "No run is recorded in this job." in records
    assert "Blank in job.toml: criteria.key-0.limit_m" in keys
    assert "do this   Register the log" in told
    assert "run.field_0 (2)" in told
    assert "--all" in told
    assert "chain-7" not in told
    assert len(rows) < 40


def test_all_of_them_are_named_where_somebody_asks() -> None:
    """No check and no blank is lost by folding."""
    result = replace(make_result(*KEYS, ALONE, *RECORDS), blanks=BLANKS)
    told = print_screen(make_screen(result, everything=True))
    for finding in result.findings:
        assert finding.check in told
    for blank in BLANKS:
        assert blank.field in told


def test_few_that_wait_for_one_thing_keep_their_names() -> None:
    """Whether three checks wait or thirty, a row is one thing that is missing."""
    few = [*RECORDS[:3], replace(ALONE, needs=("records",), check="base-place"), ALONE]
    for findings, names in ((few[1:], "chain-1, chain-2,"), ([*few, *RECORDS[3:]], "21 checks")):
        rows = [
            line.strip() for line in print_screen(make_screen(make_result(*findings))).splitlines()
        ]
        (row,) = [row for row in rows if "No run is recorded in this job." in row]
        assert row.startswith(names)
        assert any(row.startswith("base-change") for row in rows)


def test_few_say_each_why_and_many_what_most_say() -> None:
    """A reason of one check among dozens stays for --all; of two checks both are told."""
    odd = wait("odd", "It wants two of them.", "records")
    for findings, told in (([RECORDS[0], odd], True), ([*RECORDS, odd], False)):
        shown = print_screen(make_screen(make_result(*findings)))
        assert ("It wants two of them" in shown) is told
