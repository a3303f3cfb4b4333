"""What a person types or keeps in job.toml is refused where it looks like a password."""

from __future__ import annotations

from pathlib import Path

import pytest
from job_bench import JobBench, run_here

from ledger.store.reading import Book

SECRET = "password: hunter2-xyz"  # noqa: S105 - invented


@pytest.mark.parametrize("option", ["--title", "--reference", "--by"])
def test_a_new_job_is_not_begun_with_one(tmp_path: Path, option: str) -> None:
    """Nothing is made, and the message does not repeat it."""
    ran = run_here(["start", "job", option, SECRET], tmp_path)
    assert ran.status == 2
    assert f"{option} holds what looks like a password" in ran.err
    assert "hunter2" not in ran.err
    assert not (tmp_path / "job").exists()


@pytest.mark.parametrize("line", [f'title = "{SECRET}"', f"# {SECRET}"])
def test_a_job_toml_with_one_is_not_entered(bench: JobBench, line: str) -> None:
    """In a value or in a remark: the line is told by its number, and no byte of it is kept."""
    bench.write("job.toml", f"[job]\n{line}\n".encode())
    bench.write("raw/cap.bin", b"capture")
    ran = bench.run("register", "raw")
    assert ran.status == 2
    assert "job.toml line 2 holds what looks like a password" in ran.err
    assert "hunter2" not in ran.err
    kept = [path.read_bytes() for path in bench.job.glob("swathbook.sqlite*")]
    assert kept
    assert not any(b"hunter2" in content for content in kept)


@pytest.mark.parametrize("option", ["--to", "--use", "--limits", "--despite", "--by"])
def test_a_handover_with_one_is_refused(bench: JobBench, option: str) -> None:
    """Each of its texts."""
    bench.write("deliver/a.csv", b"1,2\n")
    assert bench.run("audit", "deliver").status in (0, 1, 3)
    said = {"--to": "client", "--use": "volumes", "--despite": "asked for", option: SECRET}
    words = [word for pair in said.items() for word in pair]
    (line,) = bench.refuse("handover", "deliver", *words)
    assert f"{option} holds what looks like a password" in line
    assert "hunter2" not in line
    with Book.open(bench.job) as book:
        assert not list(book.entries("transmittal"))
