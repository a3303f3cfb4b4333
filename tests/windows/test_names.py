"""Paths that Windows makes trouble with, on their way through the commands.

Source: Microsoft, Naming Files, Paths, and Namespaces (260 characters, devices, a period or space
at an end, no case).
"""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from job_bench import JobBench

from ledger.testing import Layout, Scene, SurveyBuilder

SMALL = Scene(columns=1, density=0.5)
PLAIN = Layout(compressed=False)
DEEP = "/".join(["a_folder_of_thirty_characters_"] * 9)  # 278 characters


@pytest.fixture
def bench(tmp_path, monkeypatch) -> JobBench:
    """A job."""
    monkeypatch.setenv("SWATHBOOK_HOME", str(tmp_path / "home"))
    return JobBench(tmp_path)


def make_tile(folder: Path, name: str) -> Path:
    """Write a point file of that name."""
    survey = SurveyBuilder(folder, PLAIN, SMALL)
    path = folder / name
    survey.path(0).rename(path)
    return path


def test_a_long_path_goes_all_the_way(bench) -> None:
    """Registered, recorded, audited, traced and found unchanged, and remarked on once."""
    make_tile(bench.job / "out" / DEEP, "tile.las")
    bench.write(f"raw/{DEEP}/capture.bin", b"points")
    registered = bench.ask("register", "raw", "--flight", "F1")
    (remark,) = registered["remarks"]
    assert remark.endswith("cannot be copied to Windows under this name")
    assert len(remark) < 250
    ran = bench.run("record", "out", "--set", "mount_mode=drone")
    assert (ran.status, ran.err) == (0, "")
    told = bench.ask("audit", "out", status=3)
    assert told["files"] == 1
    traced = bench.ask("trace", f"out/{DEEP}/tile.las")
    assert "R1" in str(traced)
    checked = bench.ask("recheck")
    assert "missing" not in {str(value) for value in checked.values()}


def test_a_long_path_on_a_narrow_screen(bench) -> None:
    """The path is broken, never cut: a person may have to type it."""
    make_tile(bench.job / "out" / DEEP, "tile.las")
    shown = "".join(bench.run("audit", "out", "--all").out.split())
    assert f"{DEEP}/tile.las" in shown


@pytest.mark.parametrize(
    "name",
    [
        "CON",
        "nul.las",
        "aux.las",
        "COM1.las",
        "lpt9.laz",
        "tile.",
        "tile ",
        "tile..las ",
        "a:b.las",
    ],
)
def test_a_name_that_windows_refuses_is_kept_and_remarked_on(bench, name: str) -> None:
    """Here it is a name like any other; whoever copies it to Windows is told beforehand."""
    make_tile(bench.job / "raw", name)
    told = bench.ask("register", "raw", "--flight", "F1")
    assert told["remarks"] == [f"raw/{name} cannot be copied to Windows under this name"]
    checked = bench.run("recheck")
    assert checked.status == 0, checked.out
    traced = bench.run("trace", f"raw/{name}")
    assert (traced.status, traced.err) == (0, "")


def test_names_that_only_case_tells_apart(bench) -> None:
    """Both are entered; where one comes back alone, as on Windows, the other is missing."""
    first = make_tile(bench.job / "raw", "tile.las")
    second = bench.job / "raw" / "TILE.las"
    second.write_bytes(first.read_bytes() + b"\0")
    if len(list((bench.job / "raw").iterdir())) == 1:
        pytest.skip("this file system knows no case")
    told = bench.ask("register", "raw", "--flight", "F1")
    (remark,) = told["remarks"]
    assert remark == (
        "raw/TILE.las and raw/tile.las differ only in upper and lower case; "
        "on Windows only one of them can be there"
    )
    second.unlink()
    checked = bench.run("recheck")
    assert checked.status == 1
    assert "raw/TILE.las" in checked.out


def test_a_name_that_came_back_in_another_case(bench) -> None:
    """Nothing is guessed: the recorded name is missing, and the one that is there is not known."""
    make_tile(bench.job / "raw", "tile.las")
    bench.ask("register", "raw", "--flight", "F1")
    shutil.move(bench.job / "raw" / "tile.las", bench.job / "raw" / "Tile.LAS")
    if (bench.job / "raw" / "tile.las").exists():
        pytest.skip("this file system knows no case")
    checked = bench.run("recheck")
    assert checked.status == 1
    assert "raw/tile.las" in checked.out
    assert "1 file in raw is not registered" in bench.run().out


def test_backslashes_are_taken_as_windows_types_them(bench) -> None:
    """A path with backslashes is no path here, and is told in one line rather than misread."""
    make_tile(bench.job / "raw", "tile.las")
    (line,) = bench.refuse("register", "raw\\tile.las")
    assert "raw\\tile.las" in line
