"""No text of a stranger reaches a spreadsheet: no command writes a table that one would open.

A cell that begins with one of four signs is carried out as a formula by whatever opens a CSV
(OWASP, CSV injection); a page or a text is opened by no spreadsheet of itself.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from job_bench import JobBench

from ledger.testing import Layout, Scene, SurveyBuilder

FORMULAS = ("=1+cmd|' /C calc'!A0", "+1", "-1+1", "@SUM(1)")
ENDINGS = {".csv", ".tsv", ".xls", ".xlsx", ".ods", ".slk", ".dif", ".xml"}


def list_files(folder: Path) -> set[Path]:
    """Return all files below a folder."""
    return {path for path in folder.rglob("*") if path.is_file()}


@pytest.fixture
def written(bench: JobBench) -> dict[Path, bytes]:
    """Return what all commands that write files wrote of a job full of formulas."""
    survey = SurveyBuilder(bench.job / "out", Layout(), Scene(columns=1, density=1.0))
    for number, formula in enumerate(FORMULAS):
        bench.write(f"out/{formula.replace('/', '_')}", bytes([number]))
    bench.write("raw/scan.bin", b"scan")
    before = list_files(bench.base)
    first = FORMULAS[0]
    for words in (
        ("register", "raw", "--flight", "F1", "--by", FORMULAS[1]),
        ("record", "out", "--input", "F1", "--set", f"software={first}", "--name", first),
        ("audit", "out"),
        ("seal",),
        ("handover", "out", "--to", first, "--use", first, "--despite", first, "--bag"),
        ("seal",),
        ("receipt", survey.paths[0]),
        ("sitecard", survey.paths[0], "--page", bench.base / "card.html"),
        ("support", bench.base / "support.zip"),
    ):
        ran = bench.run(*words)
        assert ran.status in (0, 1, 3), (words, ran.err)
    bags = [path for path in list_files(bench.base) if "delivery" in path.parts]
    return {path: path.read_bytes() for path in list_files(bench.base) - before - set(bags)}


def test_no_command_writes_what_a_spreadsheet_opens(written: dict[Path, bytes]) -> None:
    """Neither by its ending nor by its first bytes."""
    assert len(written) > 10
    assert [path for path in written if path.suffix.lower() in ENDINGS] == []
    texts = [content for content in written.values() if FORMULAS[0].encode() in content]
    starts = tuple(sign.encode() for sign in "=+-@\t")
    assert [text[:40] for text in texts if text.startswith(starts)] == []


def test_the_formulas_are_in_the_papers(written: dict[Path, bytes]) -> None:
    """Else nothing was tried: pages hold them, escaped, as they were typed."""
    pages = [path for path, content in written.items() if b"cmd|" in content]
    assert {path.suffix for path in pages} >= {".html"}
