"""Nothing is ever written among raw data, whichever command names a place there, and however."""

from __future__ import annotations

import shutil
import sys
from pathlib import Path

import pytest
from job_bench import JobBench, make_bench

from ledger.jobfolder import SCRATCH_NAME

COPY = (
    "import pathlib, shutil, sys;"
    "out = pathlib.Path(sys.argv[2]);"
    "out.parent.mkdir(parents=True, exist_ok=True);"
    "shutil.copyfile(sys.argv[1], out)"
)


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> JobBench:
    """Return a job with a raw file, a run of a command, an audit and a seal; and links into raw."""
    bench = make_bench(tmp_path_factory)
    bench.write("raw/cap.bin", b"capture")
    assert bench.run("register", "raw", "--flight", "F1").status == 0
    words = ["record", "--input", "F1", "--yes", "--set", "software=p", "--command", "--"]
    ran = bench.run(*words, sys.executable, "-c", COPY, "raw/cap.bin", "out/R1/table.csv")
    assert ran.status == 0, ran.err
    shutil.copytree(bench.job / "out" / "R1", bench.job / "deliver")
    assert bench.run("audit", "deliver").status in (0, 1, 3)
    assert bench.run("handover", "deliver", "--to", "client", "--use", "x", "--despite", "y")
    assert bench.run("seal").status == 0
    (bench.job / "link").symlink_to(bench.job / "raw", target_is_directory=True)
    return bench


def list_names(folder: Path) -> list[str]:
    """Return what lies in a folder, without what may be lost at any time."""
    inside = (path.relative_to(folder) for path in folder.rglob("*"))
    return sorted(path.as_posix() for path in inside if path.parts[0] != SCRATCH_NAME)


COMMANDS = {
    "repeat --page": ["repeat", "R1", "--page", "{}/page.html"],
    "repeat --into": ["repeat", "R1", "--run", "--yes", "--into", "{}/again"],
    "sitecard --page": ["sitecard", "--at", "5,50", "--page", "{}/page.html"],
    "flight --card": ["record", "flight", "--card", "{}/card.html"],
    "rig --card": ["record", "rig", "--card", "{}/card.html"],
    "support": ["support", "{}/bundle.zip"],
    "receipt --to": ["receipt", "deliver/table.csv", "--to", "{}/receipts"],
    "seal --request": ["seal", "--request", "{}/seal.tsq"],
    "register --copy-to": ["register", "elsewhere.bin", "--copy-to", "{}"],
}


@pytest.mark.parametrize("place", ["raw", "deliver/../raw", "link"])
@pytest.mark.parametrize("name", COMMANDS)
def test_no_command_writes_among_raw_data(made: JobBench, name: str, place: str) -> None:
    """Neither by a plain name, nor round a corner, nor by a link; one line says why."""
    made.write("elsewhere.bin", b"more")
    before = list_names(made.job)
    (line,) = made.refuse(*(word.format(place) for word in COMMANDS[name]))
    assert "nothing is written among the raw data; name another folder" in line
    assert list_names(made.job) == before


@pytest.mark.parametrize("words", [["demo", "raw/demo"], ["start", "raw/next"]])
def test_no_job_begins_among_raw_data(made: JobBench, words: list[str]) -> None:
    """It would lie inside another job."""
    before = list_names(made.job)
    (line,) = made.refuse(*words)
    assert "a job inside another job" in line
    assert list_names(made.job) == before


def test_the_raw_data_of_another_job_are_kept_as_well(made: JobBench, tmp_path: Path) -> None:
    """A page for this job, named into the raw folder of that one; and one from outside any."""
    other = JobBench(tmp_path)
    for words in (["repeat", "R1", "--page"], ["sitecard", "--at", "5,50", "--page"]):
        (line,) = made.refuse(*words, other.job / "raw" / "page.html")
        assert "among the raw data" in line
    ran = made.run("sitecard", "--at", "5,50", "--page", made.job / "raw" / "p.html", cwd=tmp_path)
    assert (ran.status, "among the raw data" in ran.err) == (2, True)
    assert list_names(other.job / "raw") == []


def test_papers_are_not_laid_among_raw_data(made: JobBench, tmp_path: Path) -> None:
    """Where the delivery lies in a raw folder outside the job, they would lie there too."""
    text = (made.job / "job.toml").read_text(encoding="utf-8")
    raw = tmp_path / "drive"
    shutil.copytree(made.job / "deliver", raw / "deliver")
    lines = f'[folders]\nraw = "{raw.as_posix()}"\n'
    (made.job / "job.toml").write_text(lines, encoding="utf-8")
    try:
        assert made.run("audit", raw / "deliver").status in (0, 1, 3)
        words = ["--to", "client", "--use", "x", "--despite", "y"]
        (line,) = made.refuse("handover", raw / "deliver", *words)
    finally:
        (made.job / "job.toml").write_text(text, encoding="utf-8")
    assert "among the raw data" in line
    assert list_names(raw) == ["deliver", "deliver/table.csv"]


@pytest.mark.parametrize("name", ["repeat --page", "sitecard --page", "flight --card", "support"])
def test_nor_among_files_of_a_delivery_nor_over_a_file(made: JobBench, name: str) -> None:
    """What was audited stays as it was audited, and no file is written over."""
    words = COMMANDS[name]
    (line,) = made.refuse(*(word.format("deliver") for word in words))
    assert "nothing is written among the files of a delivery" in line
    target = words[-1].format("mine")
    kept = made.write(target, b"mine")
    (line,) = made.refuse(*(word.format("mine") for word in words))
    assert "a file lies there already" in line
    assert kept.read_bytes() == b"mine"
