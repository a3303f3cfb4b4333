"""A header says what it says, and a damaged one is told in one line before it costs anything.

Offsets are those of ASPRS LAS 1.4 R15, public header block.
"""

from __future__ import annotations

import math
import os
import struct
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import laspy
import pytest
from imports import list_imports
from pyproj import CRS

from ledger.errors import (
    FileError,
    MalformedFileError,
    ShortFileError,
    UnreadableFileError,
)
from ledger.lasheader import read_las_header
from ledger.signs import looks_like_las

Patch = Callable[..., Path]

VERSION_MINOR, HEADER_SIZE, OFFSET_TO_POINTS, VLR_COUNT = 25, 94, 96, 100
POINT_FORMAT, RECORD_LENGTH, LEGACY_COUNT = 104, 105, 107
SCALE_X, OFFSET_Y, MAXIMUM_X = 131, 163, 179
EVLR_START, EVLR_COUNT, COUNT_14 = 235, 243, 247


def test_a_header_equals_what_laspy_reads(las_14: Path) -> None:
    """Counts, scale, offset, box and records of a written file come back as laspy has them."""
    header = read_las_header(las_14)
    with laspy.open(las_14) as opened:
        reference = opened.header
    assert header.version == "1.4"
    assert header.point_format == 6
    assert header.point_count == reference.point_count == 10
    assert header.by_return == tuple(reference.number_of_points_by_return)
    assert header.scale == tuple(reference.scales)
    assert header.offset == tuple(reference.offsets)
    assert header.minimum == tuple(reference.mins)
    assert header.maximum == tuple(reference.maxs)
    assert [(v.user_id, v.record_id, v.size) for v in header.vlrs] == [("LASF_Spec", 3, 15)]
    assert header.missing_bytes == 0
    assert header.notes == ()


def test_wkt_is_read_from_an_extended_record(tmp_path: Path) -> None:
    """A WKT record after the points is read like one before them."""
    text = CRS.from_epsg(6346).to_wkt("WKT1_GDAL")
    file_header = laspy.LasHeader(version="1.4", point_format=6)
    las = laspy.LasData(file_header)
    las.X = [1, 2, 3]
    las.evlrs = laspy.vlrs.vlrlist.VLRList(
        [laspy.VLR("LASF_Projection", 2112, "wkt", text.encode() + b"\0")]
    )
    las.write(tmp_path / "evlr.las")
    header = read_las_header(tmp_path / "evlr.las")
    assert header.wkt == text
    assert [v.extended for v in header.vlrs] == [True]


def write_wkt_records(path: Path, *payloads: bytes) -> Path:
    """Write a file with several WKT records before its points."""
    header = laspy.LasHeader(version="1.4", point_format=6)
    for payload in payloads:
        header.vlrs.append(laspy.VLR("LASF_Projection", 2112, "wkt", payload))
    las = laspy.LasData(header)
    las.X = [1]
    las.write(path)
    return path


def test_text_that_is_not_utf_8_is_read_with_a_note(tmp_path: Path) -> None:
    """Latin-1 in a WKT record costs a note, not the record."""
    header = read_las_header(write_wkt_records(tmp_path / "latin.las", b'LOCAL_CS["H\xf6he"]\0'))
    assert header.wkt == 'LOCAL_CS["Höhe"]'
    assert header.notes == ("the WKT record is not UTF-8; it was read as Latin-1",)


def test_a_second_wkt_record_is_told_where_it_differs(tmp_path: Path) -> None:
    """Of two records that differ the first is taken and the fact noted; twins are no news."""
    path = write_wkt_records(tmp_path / "two.las", b"first\0", b"second\0")
    header = read_las_header(path)
    assert (header.wkt, header.notes) == (
        "first",
        ("2 WKT records differ; the first was taken",),
    )
    assert read_las_header(write_wkt_records(path, b"same\0", b"same\0\0")).notes == ()


def test_extended_records_before_the_points_are_a_note(las_14: Path, patch: Patch) -> None:
    """Extended records belong after the points; ones that begin in the header are not followed."""
    damaged = patch(las_14, (EVLR_START, "<Q", 100), (EVLR_COUNT, "<I", 1))
    assert read_las_header(damaged).notes == ("extended records are stated to begin at byte 100",)


@pytest.mark.parametrize(
    ("content", "kind", "told"),
    [
        (b"", ShortFileError, "the file is empty"),
        (b"PK\x03\x04 no point cloud", MalformedFileError, "this is not a LAS file"),
        (b"LASF" + bytes(100), ShortFileError, "ends inside its header"),
    ],
)
def test_what_is_no_header_is_told_in_one_line(
    tmp_path: Path, content: bytes, kind: type[FileError], told: str
) -> None:
    """An empty file, a foreign one and a stump each give their own error of one line."""
    path = tmp_path / "stump.las"
    path.write_bytes(content)
    with pytest.raises(kind, match=told) as raised:
        read_las_header(path)
    assert "\n" not in str(raised.value)
    assert str(path) in str(raised.value)


def test_every_cut_inside_the_header_is_a_short_file(las_14: Path, tmp_path: Path) -> None:
    """A file cut at any byte before its points is short or, cut to nothing, empty; never read."""
    whole = las_14.read_bytes()
    offset = struct.unpack_from("<I", whole, OFFSET_TO_POINTS)[0]
    stump = tmp_path / "stump.las"
    for length in (0, 24, 100, 226, 227, 374, 375, 400, offset - 1):
        stump.write_bytes(whole[:length])
        expected = MalformedFileError if 0 < length < 4 else ShortFileError
        with pytest.raises(expected):
            read_las_header(stump)


@pytest.mark.parametrize(
    ("change", "told"),
    [
        ((VERSION_MINOR, "<B", 9), "unknown LAS version"),
        ((24, "<B", 2), "unknown LAS version"),
        ((HEADER_SIZE, "<H", 100), "the header size contradicts"),
        ((OFFSET_TO_POINTS, "<I", 300), "points would begin inside the header"),
        ((OFFSET_TO_POINTS, "<I", 2**32 - 1), "ends before its points begin"),
        ((VLR_COUNT, "<I", 4_000_000_000), "count of variable length records is impossible"),
        ((VLR_COUNT, "<I", 3), "count of variable length records is impossible"),
        ((POINT_FORMAT, "<B", 11), "unknown point data record format"),
        ((POINT_FORMAT, "<B", 0b1100_0110), "unknown point data record format"),
        ((RECORD_LENGTH, "<H", 29), "point records are too short for format 6"),
    ],
)
def test_a_header_that_contradicts_itself_is_refused(
    las_14: Path, patch: Patch, change: tuple[int, str, int], told: str
) -> None:
    """Numbers that cannot all be followed are refused with found against expected."""
    with pytest.raises(MalformedFileError, match=told) as raised:
        read_las_header(patch(las_14, change))
    assert ": found " in str(raised.value)
    assert "expected " in str(raised.value)


def test_an_impossible_count_of_records_costs_milliseconds(las_14: Path, patch: Patch) -> None:
    """Four thousand million stated records are refused before anything is read for them."""
    damaged = patch(las_14, (VLR_COUNT, "<I", 4_000_000_000))
    began = time.process_time()
    with pytest.raises(MalformedFileError):
        read_las_header(damaged)
    assert time.process_time() - began < 1


def test_records_in_a_large_room_are_capped(tmp_path: Path, las_14: Path) -> None:
    """A count that fits a huge room of zeros, but no real file, is refused as quickly."""
    content = bytearray(las_14.read_bytes()[:375])
    room = 200_000 * 54
    struct.pack_into("<I", content, OFFSET_TO_POINTS, 375 + room)
    struct.pack_into("<I", content, VLR_COUNT, 200_000)
    path = tmp_path / "zeros.las"
    with path.open("wb") as stream:
        stream.write(content)
        stream.truncate(375 + room)
    with pytest.raises(MalformedFileError, match="impossible"):
        read_las_header(path)


@pytest.mark.parametrize("value", [0.0, -0.001, math.nan, math.inf])
def test_a_useless_scale_is_a_note(las_14: Path, patch: Patch, value: float) -> None:
    """The header of a file whose points cannot be computed is read all the same, with a note."""
    header = read_las_header(patch(las_14, (SCALE_X, "<d", value)))
    assert header.notes == (f"X scale is {value!r}",)
    assert header.point_count == 10


def test_a_useless_offset_or_box_is_a_note(las_14: Path, patch: Patch) -> None:
    """An offset or a box that is no number does not hide the rest of the header."""
    damaged = patch(las_14, (OFFSET_Y, "<d", math.inf), (MAXIMUM_X, "<d", math.nan))
    assert read_las_header(damaged).notes == (
        "Y offset is inf",
        "the box in the header is not all numbers",
    )


def test_a_count_beyond_the_file_is_a_note_and_missing_bytes(las_14: Path, patch: Patch) -> None:
    """A count of 2^60 leaves the header readable and says how many points there is room for."""
    header = read_las_header(patch(las_14, (COUNT_14, "<Q", 2**60)))
    assert header.point_count == 2**60
    assert header.missing_bytes == (2**60 - 10) * 30
    assert header.notes == (f"the file has room for 10 of {2**60:,} stated points",)


def test_a_file_cut_in_its_points_says_how_much_is_missing(las_12: Path) -> None:
    """The header of a cut file is read, with the bytes that its points lack."""
    os.truncate(las_12, las_12.stat().st_size - 28 - 5)
    header = read_las_header(las_12)
    assert header.missing_bytes == 33
    assert header.notes == ("the file has room for 8 of 10 stated points",)


def test_bytes_after_the_points_are_a_note(las_12: Path) -> None:
    """What follows the last stated point, where nothing may, is said."""
    with las_12.open("ab") as stream:
        stream.write(bytes(28))
    assert read_las_header(las_12).notes == ("28 bytes follow the last stated point",)


def test_extended_records_outside_the_file_are_missing_bytes(las_14: Path, patch: Patch) -> None:
    """Extended records that the file does not reach are told; its points stay readable."""
    size = las_14.stat().st_size
    damaged = patch(las_14, (EVLR_START, "<Q", size + 100), (EVLR_COUNT, "<I", 1))
    header = read_las_header(damaged)
    assert header.missing_bytes == 160
    assert header.notes == ("the file ends before its extended records",)


def test_countless_extended_records_are_walked_no_further_than_the_file(
    las_14: Path, patch: Patch
) -> None:
    """Four thousand million extended records cost no more than those that are there."""
    size = las_14.stat().st_size
    damaged = patch(las_14, (EVLR_START, "<Q", size - 100), (EVLR_COUNT, "<I", 4_000_000_000))
    began = time.process_time()
    header = read_las_header(damaged)
    assert time.process_time() - began < 1
    assert "of 4,000,000,000 stated extended variable length records" in header.notes[0]


def test_a_missing_file_and_a_folder_are_unreadable(tmp_path: Path) -> None:
    """What the system will not open is an error of ours, with the system's reason."""
    for path in (tmp_path / "absent.las", tmp_path):
        with pytest.raises(UnreadableFileError, match="cannot be read"):
            read_las_header(path)


def test_las_is_known_by_its_first_bytes() -> None:
    """Content decides, whatever the name says."""
    assert looks_like_las(b"LASF\0\0")
    assert not looks_like_las(b"LAS")


def test_reading_a_header_loads_no_heavy_library() -> None:
    """Headers are read without laspy, numpy or pyproj."""
    assert not list_imports("ledger.lasheader") & {"laspy", "numpy", "pyproj", "pydantic"}


def test_what_only_some_versions_state_is_read_at_its_offset(las_14, las_12, patch):
    """Offsets by ASPRS LAS 1.4 R16: waveform packets at 227, extended records at 235 and 243."""
    header = read_las_header(patch(las_14, (227, "<Q", 777), (235, "<Q", 1), (243, "<I", 2)))
    assert (header.waveform_start, header.evlr_start, header.evlr_count) == (777, 1, 2)
    assert header.vlr_count == len(header.vlrs) == 1
    assert header.time_range is None
    assert read_las_header(las_12).waveform_start == 0


def test_times_of_las_1_5_are_read_at_their_offsets(tmp_path):
    """ASPRS LAS 1.5 R00: greatest time at 375, least at 383, time offset at 391, 393 bytes."""
    raw = bytearray(393)
    raw[:4], raw[24], raw[25] = b"LASF", 1, 5
    struct.pack_into("<HIIBH", raw, 94, 393, 393, 0, 6, 30)
    struct.pack_into("<3d", raw, 131, 0.001, 0.001, 0.001)
    struct.pack_into("<ddH", raw, 375, 20.0, 10.0, 1000)
    path = tmp_path / "new.las"
    path.write_bytes(raw)
    header = read_las_header(path)
    assert (header.version, header.time_range, header.time_offset) == ("1.5", (10.0, 20.0), 1000)


@pytest.mark.parametrize(
    ("minor", "encoding", "origin"),
    [(5, 17 | 64, 1.45e9), (5, 17, 1e9), (5, 16 | 64, None), (4, 17 | 64, 1e9), (4, 16, None)],
)
def test_times_count_from_the_origin_of_their_kind(las_14, patch, minor, encoding, origin):
    """ASPRS LAS 1.4 R15, bit 0: 10^9 s; 1.5 R00, bit 6: 10^6 s times the offset, here 1450."""
    header = replace(
        read_las_header(patch(las_14, (6, "<H", encoding))),
        version=f"1.{minor}",
        time_offset=1450,
    )
    assert header.time_origin_s == origin


def test_described_extra_bytes_are_counted(open_file):
    """`extrabytes.las` has 61 bytes a point of which format 3 takes 34, all described."""
    header = read_las_header(open_file("extrabytes.las"))
    assert header.described_bytes == header.record_length - 34
    assert read_las_header(open_file("unregistered_extra_bytes.las")).described_bytes == 0
