"""Faults of `job.toml` of every kind come in one reading, however far apart they are found."""

from __future__ import annotations

import re

import pytest
from job_bench import JobBench, read_json

# Each line that is wrong ends in a remark with words that have to be said of it.
EVERY_KIND = """\
carried = ["coordinates.geiod"]  # did you mean coordinates.geoid?

[job]
reference = 412  # is not a text: found 412, expected a text; put it in double quotes
titel = "Pit"  # did you mean title?

[coordinates]
horizontal = "EPSG:99999999"  # cannot be understood
epoch = "2010,5"  # write 2010.5 without quotes, with a point
vertical = "ellipsoidal"  # contradicts coordinates.vertical_crs
vertical_crs = "EPSG:5703"
unit.vertical = "us-survey-foot"  # expected metre, the unit of NAVD88 height

[delivery]
tile_size_m = 0  # is out of range

[criteria.point-density]
min_pts_per_m2 = -4.0  # expected more than 0
cel_m = 1.0  # did you mean cell_m?

[criteria.point-densty]  # did you mean point-density?
min_pts_per_m2 = 4.0

[criteria.classification]
requird = [2]  # did you mean required?

[checks.off]
seams = ""  # is empty
coverage-of-everything = "why"  # swathbook checks lists those there are
file-readable = "no time"  # it may never be left out
classification = "none wanted"  # or the section [criteria.classification]
"""
COMMANDS = [["audit", "raw"], ["checks"]]


@pytest.fixture
def job(bench: JobBench) -> JobBench:
    """Return a job with a registered file and faults of every kind."""
    bench.write("raw/a.txt", b"a")
    bench.ask("register", "raw")
    bench.write("job.toml", EVERY_KIND.encode())
    return bench


def list_wrong() -> list[tuple[int, str]]:
    """Return number and words of each line that is wrong."""
    return [
        (number, line.split("  # ")[1])
        for number, line in enumerate(EVERY_KIND.splitlines(), start=1)
        if "  # " in line
    ]


@pytest.mark.parametrize("command", COMMANDS, ids=" ".join)
def test_every_fault_comes_at_once(job: JobBench, command: list[str]) -> None:
    """Each fault is a line with its number and what to do, in order; nothing is entered."""
    wrong = list_wrong()
    told = job.refuse(*command, lines=len(wrong))
    for line, (number, words) in zip(told, wrong, strict=True):
        assert line.startswith(f"job.toml line {number}: "), line
        assert words in line, line
        assert "; " in line, line


def test_every_fault_is_in_the_json(job: JobBench) -> None:
    """A program gets the same faults, each with its line, and what to do about each."""
    errors = read_json(job.run("audit", "raw", "--json").out)["errors"]
    assert [error["line"] for error in errors] == [number for number, _ in list_wrong()]
    assert {error["kind"] for error in errors} == {"specification"}
    assert all(error["remedy"] for error in errors)


def test_mended_one_by_one_the_others_stay(job: JobBench) -> None:
    """A fault that is taken away uncovers no new one: there is no second round."""
    all_told = list_told(job)
    lines = EVERY_KIND.splitlines()
    for number, _ in list_wrong():
        # Without a heading its keys belong elsewhere; without a criterion that has no default it
        # is missing.
        if lines[number - 1].startswith(("[", "min_pts_per_m2")):
            continue
        left = [line for at, line in enumerate(lines, start=1) if at != number]
        job.write("job.toml", "\n".join(left).encode())
        assert list_told(job) < all_told, number


def list_told(job: JobBench) -> set[str]:
    """Return what is said of a specification, without the numbers of lines."""
    return {re.sub(r" line \d+", "", line) for line in job.run("checks").lines}


def test_a_line_that_is_no_toml_hides_the_others(job: JobBench) -> None:
    """A key that stands twice stops the reading: one line, and what to do."""
    job.write("job.toml", (EVERY_KIND + 'file-readable = "again"\n').encode())
    (line,) = job.refuse("audit", "raw")
    number = EVERY_KIND.count("\n") + 1
    assert line.startswith(f"job.toml line {number}: this key stands there twice")
    assert line.endswith("delete one of the two lines")


CONTRADICTIONS = {
    "horizontal = 'EPSG:6346'\nunit.horizontal = 'us-survey-foot'": "expected metre",
    "horizontal = 'EPSG:2264'\nunit.horizontal = 'international-foot'": "expected us-survey-foot",
    "horizontal = 'EPSG:4326'\nunit.horizontal = 'metre'": "expected degrees",
    "horizontal = 'EPSG:6346+6360'\nunit.vertical = 'metre'": "expected us-survey-foot",
    "horizontal = 'EPSG:6346+5703'\nvertical = 'ellipsoidal'": "expected orthometric",
    "horizontal = 'EPSG:6319'\nvertical = 'orthometric'": "expected ellipsoidal",
    "vertical_crs = 'EPSG:5703'\nvertical = 'site'": "expected orthometric",
}


@pytest.mark.parametrize(("text", "words"), CONTRADICTIONS.items())
def test_what_cannot_both_be_met_is_refused(bench: JobBench, text: str, words: str) -> None:
    """Two keys that contradict each other are one line: units and heights as EPSG has them.

    EPSG 6346 and 5703 are in metres, 2264 and 6360 in US survey feet, 4326 in degrees; 6319 has
    heights above the ellipsoid (EPSG registry, as PROJ holds it).
    """
    bench.write("job.toml", f"[coordinates]\n{text}\n".encode())
    (line,) = bench.refuse("checks")
    assert line.startswith("job.toml line 3: coordinates.")
    assert words in line, line
    assert line.endswith("correct one of the two, or put # before it")


SYSTEMS = {
    "horizontal = 'EPSG:5703'": "write it as vertical_crs",
    "vertical_crs = 'EPSG:6346'": "names a system without heights",
    "horizontal = 'EPSG:99999999'": "this coordinate system code is not known: found EPSG:99999999",
    "horizontal = 'PROJCS[rubbish'": "cannot be understood",
}


@pytest.mark.parametrize(("text", "words"), SYSTEMS.items())
def test_a_system_that_is_none_is_one_line(bench: JobBench, text: str, words: str) -> None:
    """A code of the wrong kind, an unknown one and rubbish are one line each, and what to do."""
    bench.write("job.toml", f"[coordinates]\n{text}\n".encode())
    (line,) = bench.refuse("checks")
    assert line.startswith("job.toml line 2: coordinates.")
    assert words in line, line
    assert "; " in line, line


AGREEMENTS = [
    "horizontal = 'EPSG:6346'\nunit = { horizontal = 'metre', vertical = 'us-survey-foot' }",
    "horizontal = 'EPSG:2264'\nunit.horizontal = 'us-survey-foot'",
    "horizontal = 'EPSG:6346+6360'\nvertical_crs = 'EPSG:5703'\nunit.vertical = 'metre'",
    "horizontal = 'EPSG:6319'\nvertical = 'ellipsoidal'\nunit.vertical = 'metre'",
    "vertical = 'site'\nunit.vertical = 'metre'",
]


@pytest.mark.parametrize("text", AGREEMENTS)
def test_what_can_be_met_is_taken(bench: JobBench, text: str) -> None:
    """Mixed units, and a vertical key of its own beside a compound system, are no contradiction."""
    bench.write("job.toml", f"[coordinates]\n{text}\n".encode())
    assert bench.run("checks").status == 0
