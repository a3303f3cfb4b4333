"""Stored audits: which are the latest, and texts that no encoding can hold."""

from __future__ import annotations

import pytest

from ledger.auditentry import read_finding, read_latest_audits, write_finding
from ledger.canonical import decode, encode
from ledger.model.finding import Finding, Grade, Outcome, Where


def test_of_each_folder_the_latest_audit_counts(bench) -> None:
    """The latest audit of every folder is returned, newest first."""
    bench.audit()
    second = bench.audit()
    inner = bench.out / "inner"
    inner.mkdir()
    (inner / "a.txt").write_text("a", encoding="utf-8")
    third = bench.audit(inner)
    with bench.read() as book:
        assert [a.entry.seq for a in read_latest_audits(book)] == [third.entry, second.entry]


def test_a_quick_audit_does_not_hide_the_full_one(bench) -> None:
    """Where the latest audit was quick, the full audit of the same bytes still counts."""
    full = bench.audit()
    quick = bench.audit(quick=True)
    with bench.read() as book:
        assert [a.entry.seq for a in read_latest_audits(book)] == [quick.entry, full.entry]
    bench.survey.flip_byte(0, -1)
    later = bench.audit(quick=True)
    with bench.read() as book:
        assert [a.entry.seq for a in read_latest_audits(book)] == [later.entry]


@pytest.mark.parametrize(
    "finding",
    [
        Finding("a", Outcome.CONFORMS, "s", "t"),
        Finding("a", Outcome.NOT_ASSESSED, "s", "t", needs=("points: x", "y"), revision=3),
        Finding(
            "a",
            Outcome.NONCONFORMING,
            "s",
            "größer als 5 cm",
            grade=Grade.MAJOR,
            where=Where(
                xy=(0.1, -1e22), lonlat=(1e-7, 90.0), time_span=("a", "b"), strips=("swath 1",)
            ),
            digests=("ab",),
            criterion='{"a":"1"}',
        ),
    ],
)
def test_a_finding_survives_canonical_json(finding: Finding) -> None:
    """What is written and read back is the same finding with the same id."""
    row = decode(encode(write_finding(finding)))
    assert read_finding(row) == finding
    assert row["id"] == finding.id


def test_half_a_surrogate_pair_is_written_out() -> None:
    """A name that is no text can stand in a sentence and still be stored."""
    finding = Finding("a", Outcome.CONFORMS, "s", "caf\udce9.las is whole")
    assert write_finding(finding)["sentence"] == "caf\\udce9.las is whole"
    encode(write_finding(finding))
