"""A key of `job.toml` is read by a check or by a command, or it is told that nothing reads it."""

from __future__ import annotations

import pytest
from job_bench import JobBench

from ledger.checks import list_checks
from ledger.model.specification import Specification
from ledger.specfile.keys import list_keys, list_stated
from ledger.specfile.reading import parse_specification
from ledger.specfile.uses import READ_BY_COMMANDS, list_unread
from ledger.testing import Layout, Scene, SurveyBuilder

EVERYTHING = """
carried = ["coordinates.geoid"]
[job]
reference = "QM-1"
title = "Pit"
site = "Quillmarsh"
client = "Aggregates"
[folders]
raw = "raw"
out = "out"
copies = 2
[coordinates]
horizontal = "EPSG:6346"
epoch = 2010.0
vertical = "orthometric"
vertical_crs = "EPSG:5703"
geoid = { name = "a", version = "1", file = "g.tif" }
unit = { horizontal = "metre", vertical = "metre" }
scale_basis = "grid"
combined_factor = 0.9996
[delivery]
items = ["tiles"]
tile_size_m = 80
tile_buffer_m = 2
boundary = "site.geojson"
boundary_crs = "EPSG:4326"
"""
# What is changed, by the key that is read; both texts belong to job.toml.
CHANGES = {
    "job.reference": ("[job]\nreference = 'A-1'", "[job]\nreference = 'A-2'"),
    "job.title": ("[job]\ntitle = 'Pit'", "[job]\ntitle = 'Quarry'"),
    "job.site": ("[job]\nsite = 'Here'", "[job]\nsite = 'There'"),
    "job.client": ("[job]\nclient = 'One'", "[job]\nclient = 'Two'"),
    "folders.raw": ("[folders]\nraw = 'raw'", "[folders]\nraw = 'card'"),
    "folders.out": ("[folders]\nout = 'out'", "[folders]\nout = 'done'"),
    "folders.copies": ("[folders]\ncopies = 1", "[folders]\ncopies = 3"),
    "carried": ("[coordinates]\nhorizontal = 'EPSG:6346'", None),
}


def test_every_stated_key_is_found() -> None:
    """Every key that the model knows counts as stated once it is filled, sections by their keys."""
    known = {".".join(path) for path in list_keys(Specification)}
    sections = {key for key in known if any(other.startswith(f"{key}.") for other in known)}
    stated = set(list_stated(parse_specification(EVERYTHING.encode())))
    assert stated == {
        key for key in known - sections if key.split(".")[0] not in ("criteria", "checks")
    }


def test_blanks_are_not_stated() -> None:
    """A key that is absent, or an empty list, asks for nothing."""
    assert list(list_stated(parse_specification(b"carried = []\n[delivery]\nitems = []\n"))) == []


def test_a_section_covers_its_keys() -> None:
    """A check that reads the whole geoid reads each of its keys, and no other key."""
    specification = parse_specification(EVERYTHING.encode())
    unread = set(list_unread(specification, ["coordinates.geoid", "coordinates.unit.vertical"]))
    assert not any(key.startswith("coordinates.geoid") for key in unread)
    assert "coordinates.unit.horizontal" in unread
    assert "coordinates.unit.vertical" not in unread
    assert unread.isdisjoint(READ_BY_COMMANDS)


def test_the_table_of_commands_has_a_case_each() -> None:
    """Each key that a command is said to read is tried here, and each is a key."""
    assert CHANGES.keys() == READ_BY_COMMANDS.keys()
    assert READ_BY_COMMANDS.keys() <= {".".join(path) for path in list_keys(Specification)}


@pytest.mark.parametrize("key", sorted(CHANGES))
def test_commands_read_what_the_table_says(bench: JobBench, key: str) -> None:
    """Another value makes the named command say something else."""
    before, after = CHANGES[key]
    said = []
    for text in (before, after if after is not None else f"carried = ['coordinates']\n{before}"):
        bench.write("job.toml", text.encode())
        said.append(_ask(bench, READ_BY_COMMANDS[key]))
    assert said[0] != said[1]


def _ask(bench: JobBench, command: str) -> object:
    """Return what a command says of a job with one tile."""
    if command == "swathbook":
        return bench.ask()["state"]
    if command == "register":
        bench.write("raw/scan.bin", bytes(9))
        lines = bench.run("register", "raw").out.splitlines()
        return [line for line in lines if "needed" in line]
    SurveyBuilder(bench.job / "out", Layout(), Scene(columns=1, density=1.0))
    if command == "audit":
        found = bench.ask("audit", "out", "--quick", status=None)
        return [each["sentence"] for each in found["findings"] if each["check"] == "crs-agrees"]
    ran = bench.run("record", "--set", "run.version=1", "--json")
    return ran.out if ran.status else "recorded"


def test_what_nothing_reads_is_printed_entered_and_in_the_json(bench: JobBench) -> None:
    """Whoever reads the audit learns which of the wishes nobody tested."""
    SurveyBuilder(bench.job / "out", Layout(), Scene(columns=1, density=1.0))
    every = list_checks().checks
    readers = {each.id for each in every if "delivery.boundary" in each.specification_keys}
    reasons = ", ".join(f"{name} = 'none'" for name in sorted(readers))
    off = f"[checks]\noff = {{ {reasons} }}\n"
    bench.write("job.toml", f"{EVERYTHING}{off}".encode())
    read = {key for each in every if each.id not in readers for key in each.specification_keys}
    unread = [
        key
        for key in list_stated(parse_specification(EVERYTHING.encode()))
        if key not in read and key not in READ_BY_COMMANDS
    ]
    assert "delivery.boundary" in unread
    assert bench.ask("audit", "out", status=None)["read_by_no_check"] == unread
    entry = bench.read_journal()[-1]
    assert entry.values["read_by_no_check"] == unread
    screen = " ".join(bench.run("audit", "out").out.split())
    head = "Stated in job.toml and read by no check: look at these yourself"
    assert f"{head} {', '.join(unread)}" in screen
    assert bench.ask("checks")["read_by_no_check"] == unread
    assert ", ".join(unread[:2]) in " ".join(bench.run("checks").out.split())


def test_a_check_that_is_switched_off_reads_nothing(bench: JobBench) -> None:
    """Without the checks that read a key, the key is told to be read by none."""
    SurveyBuilder(bench.job / "out", Layout(), Scene(columns=1, density=1.0))
    wish = "[coordinates]\nunit.horizontal = 'metre'\n"
    readers = [
        each.id
        for each in list_checks().checks
        if "coordinates.unit.horizontal" in each.specification_keys
    ]
    assert readers
    bench.write("job.toml", wish.encode())
    assert bench.ask("audit", "out", status=None)["read_by_no_check"] == []
    off = ", ".join(f"{name} = 'not here'" for name in readers)
    bench.write("job.toml", f"{wish}[checks]\noff = {{ {off} }}\n".encode())
    found = bench.ask("audit", "out", status=None)
    assert found["read_by_no_check"] == ["coordinates.unit.horizontal"]


def test_a_job_without_such_keys_says_nothing(bench: JobBench) -> None:
    """Where everything stated is read, there is no such line."""
    SurveyBuilder(bench.job / "out", Layout(), Scene(columns=1, density=1.0))
    bench.write("job.toml", b"[coordinates]\nhorizontal = 'EPSG:6346'\n")
    assert "read by no check" not in bench.run("audit", "out").out
