"""Answers of every type are read as a person means them, or refused in one sentence."""

from __future__ import annotations

import datetime as dt
import hashlib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pyproj import CRS
from pyproj.enums import WktVersion

from ledger.errors import UnreadableFileError, UsageError
from ledger.forms import (
    FileFinder,
    parse_answer,
    print_blank,
    read_dropped_path,
    show_value,
)
from ledger.model.field import FieldType
from ledger.model.fields import FIELDS
from ledger.model.fields.choices import FIX_CODES
from ledger.model.known import KnownBy
from ledger.model.phrases import join_choices, list_choices

TAKEOFF = FIELDS["flight.takeoff"]


@pytest.mark.parametrize(
    ("key", "typed", "value"),
    [
        ("run.mount_mode", "drone", "drone"),
        ("run.mount_mode", "DR", "drone"),
        ("run.position_source", "Aircraft-Receiver", "aircraft receiver"),
        ("run.position_source", "post", "post-processed"),
        ("run.unit_vertical", "us survey foot", "us-survey-foot"),
        ("run.control_used", "Y", True),
        ("run.control_used", "no", False),
        ("run.control_count", "12", 12),
        ("rig.calibration_date", "2026-02-28", "2026-02-28"),
        ("run.crs", "epsg:6346", "EPSG:6346"),
        ("run.crs", "EPSG:6346+5703", "EPSG:6346+5703"),
        ("run.geoid_name", "  Köln 1 ", "Köln 1"),
    ],
)
def test_answers_that_are_understood(key: str, typed: str, value: object) -> None:
    """Case, prefixes and hyphens do not matter; what a person types is typed and confirmed."""
    known = parse_answer(FIELDS[key], typed)
    assert known.value == value
    assert type(known.value) is type(value)
    assert known.known_by is KnownBy.TYPED
    assert known.confirmed


@pytest.mark.parametrize(
    ("key", "typed", "words"),
    [
        ("run.mount_mode", "dorne", "did you mean drone?"),
        ("run.lever_arm_convention", "forward", "could be several"),
        ("run.control_used", "maybe", "yes or no"),
        ("run.control_count", "-1", "a whole number"),
        ("run.control_count", "1.0", "a whole number"),
        ("run.control_count", str(2**53), "a whole number"),
        ("rig.calibration_date", "28.02.2026", "year-month-day"),
        ("rig.calibration_date", "2026-02-30", "not a date"),
        ("run.crs", "6346", "write EPSG:6346"),
        ("run.crs", "+proj=utm +zone=17", "EPSG:6346"),
        ("run.geoid_name", "a\nb", "one line"),
        ("run.geoid_name", "a" * 3000, "too long"),
        ("run.geoid_name", " ", "is empty"),
        ("statement.confidence", "195 %", "0 to 100"),
        ("statement.confidence", "-5", "0 to 100"),
    ],
)
def test_answers_that_are_refused(key: str, typed: str, words: str) -> None:
    """A refusal names the field and what would have been right."""
    with pytest.raises(UsageError) as caught:
        parse_answer(FIELDS[key], typed)
    told = str(caught.value)
    assert words in told
    assert told.startswith(key)
    assert "\n" not in told


@given(
    st.datetimes(
        min_value=dt.datetime(1990, 1, 2),  # noqa: DTZ001 - the offset is drawn beside it
        max_value=dt.datetime(2100, 1, 1),  # noqa: DTZ001
        timezones=st.builds(
            lambda quarter: dt.timezone(dt.timedelta(minutes=15 * quarter)),
            st.integers(min_value=-48, max_value=56),
        ),
    )
)
def test_times_are_stored_in_utc(moment: dt.datetime) -> None:
    """Python's calendar agrees on the moment, whatever the offset it was typed in."""
    moment = moment.replace(microsecond=0)
    known = parse_answer(TAKEOFF, moment.isoformat())
    assert known.value.endswith("Z")
    assert dt.datetime.fromisoformat(known.value) == moment


@pytest.mark.parametrize(
    ("typed", "value"),
    [
        ("2026-05-14T09:12:00Z", "2026-05-14T09:12:00Z"),
        ("2026-05-14 09:12z", "2026-05-14T09:12:00Z"),
        ("2026-05-14T11:12:00+02:00", "2026-05-14T09:12:00Z"),
        ("2026-05-14T11:12:00.250 +0200", "2026-05-14T09:12:00.250Z"),
    ],
)
def test_ways_to_type_a_time(typed: str, value: str) -> None:
    """RFC 3339 and its usual variants are understood, fractions of a second kept."""
    assert parse_answer(TAKEOFF, typed).value == value


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ("2026-05-14T09:12:00", "offset"),
        ("14 May", "not a time"),
        ("2026-13-01T09:12:00Z", "calendar"),
        ("2026-05-14T25:00Z", "calendar"),
        ("0001-01-01T00:00+14:00", "calendar"),
    ],
)
def test_times_that_are_refused(typed: str, words: str) -> None:
    """A local time is refused: it could be one of two hours, or any of twenty-four."""
    with pytest.raises(UsageError, match=words):
        parse_answer(TAKEOFF, typed)


SYSTEMS = ("EPSG:6346", "EPSG:4979", "EPSG:5703", "EPSG:4978", "EPSG:6349")
VERSIONS = (WktVersion.WKT1_GDAL, WktVersion.WKT2_2015, WktVersion.WKT2_2019)


@pytest.mark.parametrize(
    ("code", "version"),
    [
        (code, version)
        for code in SYSTEMS
        for version in VERSIONS
        if (code, version) != ("EPSG:4979", WktVersion.WKT1_GDAL)  # WKT 1 has no 3D systems
    ],
)
def test_every_wkt_is_taken_for_a_crs(code: str, version: WktVersion) -> None:
    """What PROJ writes as WKT of any version is recognised, and kept as typed."""
    text = CRS(code).to_wkt(version, pretty=True)
    assert parse_answer(FIELDS["run.crs"], text).value == text.strip()


def test_file_is_its_digest(tmp_path: Path) -> None:
    """A file is stored as SHA-256 with the path, relative to the job, where it was seen."""
    (tmp_path / "geoid").mkdir()
    (tmp_path / "geoid" / "a b.tif").write_bytes(b"abc")
    finder = FileFinder(job=tmp_path, folders=(tmp_path / "elsewhere", tmp_path))
    known = parse_answer(FIELDS["run.geoid_file"], '"geoid/a b.tif"', files=finder)
    # SHA-256 of "abc": FIPS 180-4, example of NIST.
    assert known.value == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    assert known.where == "geoid/a b.tif"


def test_absent_file_is_refused(tmp_path: Path) -> None:
    """A file that is not there is an error with its path, not a value."""
    finder = FileFinder(job=tmp_path, folders=(tmp_path,))
    with pytest.raises(UnreadableFileError, match="no such file"):
        parse_answer(FIELDS["run.geoid_file"], "none.tif", files=finder)


def test_file_without_a_job_keeps_its_whole_path(tmp_path: Path) -> None:
    """Outside of a job a path is stored as it is."""
    path = tmp_path / "a.tif"
    path.write_bytes(b"x")
    known = parse_answer(FIELDS["run.geoid_file"], str(path))
    assert known.where == path.as_posix()
    assert known.value == hashlib.sha256(b"x").hexdigest()


@pytest.mark.parametrize(
    ("dropped", "path"),
    [
        ("'/a b/c'", "/a b/c"),
        ('"/a b/c"', "/a b/c"),
        (r"/a\ b/c\(1\)", "/a b/c(1)"),
        ("file:///a%20b/c", "/a b/c"),
        ("file:///D:/a%20b", "D:/a b"),
        (" plain ", "plain"),
    ],
)
def test_dropped_paths_are_undone(dropped: str, path: str) -> None:
    """Quotes, escaped spaces and file addresses all mean the path inside."""
    assert read_dropped_path(dropped) == Path(path)


def test_every_type_of_field_is_read() -> None:
    """No type of the dictionary is without a way to read it, and yes and no are echoed as words."""
    samples = {
        FieldType.TEXT: "a",
        FieldType.NUMBER: "1",
        FieldType.COUNT: "1",
        FieldType.YES_NO: "yes",
        FieldType.VECTOR: "1 2 3",
        FieldType.DATE: "2026-01-01",
        FieldType.TIME: "2026-01-01T00:00Z",
        FieldType.CRS: "EPSG:4326",
    }
    for field in FIELDS.values():
        if field.type is FieldType.FILE:
            continue
        typed = field.choices[0] if field.type is FieldType.CHOICE else samples[field.type]
        assert parse_answer(field, show_value(parse_answer(field, typed))) == parse_answer(
            field, typed
        )


def test_choices_with_commas_are_told_apart() -> None:
    """Two choices that hold commas read as two, in the form and in a message."""
    assert list_choices(("UTC", "GPS")) == "UTC, GPS"
    assert list_choices(FIX_CODES) == "4 fixed, 5 float; 1 fixed, 2 float"
    assert join_choices(("UTC", "GPS", "local")) == "UTC, GPS or local"
    assert join_choices(FIX_CODES) == "4 fixed, 5 float; or 1 fixed, 2 float"
    assert "(4 fixed, 5 float; 1 fixed, 2 float)" in print_blank("flight")
