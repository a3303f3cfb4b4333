"""A raw file of another job or day is told when it is registered."""

from __future__ import annotations

from pathlib import Path

import pytest
from job_bench import JobBench

from ledger.model.artefact import FileRecord
from ledger.register.misplaced import remark_on_misplaced
from ledger.store.reading import Book
from ledger.testing import BookBuilder, known


def test_a_file_of_another_job_is_told_at_once(bench: JobBench) -> None:
    """Nothing is refused: the remark names the other job and the file there."""
    bench.write("raw/scan.bin", b"\x00scan")
    assert bench.ask("register", "raw")["remarks"] == []
    other = bench.base / "other"
    assert bench.run("start", str(other), cwd=bench.base).status == 0
    (other / "raw" / "copy.bin").write_bytes(b"\x00scan")
    ran = bench.run("register", "raw", cwd=other)
    assert ran.status == 0
    told = " ".join(ran.out.split())
    assert "raw/copy.bin is registered in job job too" in told
    assert "as raw/scan.bin: see to which of the two it belongs" in told


@pytest.mark.parametrize(
    ("day", "is_told"),
    [("2026-05-15T13:00:00", False), ("2026-05-16T13:00:00", True), ("1980-01-06T00:00:00", True)],
)
def test_a_log_of_another_day_is_told(tmp_path: Path, day: str, *, is_told: bool) -> None:
    """Three days from the flight are let pass; a clock that was never set is told."""
    with BookBuilder(tmp_path / "job") as builder:
        builder.card("flight", "F1", {"flight.takeoff": known("2026-05-12T14:00:00Z")})
    record = FileRecord("raw/b.obs", "a" * 64, 1, 1, "base-log", {"first_epoch": day})
    with Book.open(builder.folder) as book:
        told = list(remark_on_misplaced(book, [record], "F1"))
        assert bool(told) == is_told
        assert list(remark_on_misplaced(book, [record], "")) == []
