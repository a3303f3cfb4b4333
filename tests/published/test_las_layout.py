"""Where the LAS standard puts each number, and how long its records are.

Source: ASPRS LAS 1.4 R15, public header block (offsets as LAS 1.4 R16 prints them; the layout is
the same), point data records 0 to 10, variable length records; LAS 1.5 R00 for its header size.
Known: read; header sizes of LAS 1.0 to 1.3 recomputed from the offsets.
"""

from __future__ import annotations

import struct
from pathlib import Path

import pytest

from ledger.geokeys import ASCII_RECORD, DIRECTORY_RECORD, DOUBLES_RECORD
from ledger.lasheader import HEADER_SIZES, RECORD_LENGTHS, read_las_header
from ledger.lasrecords import (
    EVLR_HEAD,
    EXTRA_BYTES_RECORD,
    PROJECTION_USER,
    SPECIFICATION_USER,
    VLR_HEAD,
    WKT_RECORD,
)
from ledger.model.header import LasHeader

# Offset, layout, value written there, and the field that has to come back with it.
FIELDS: tuple[tuple[int, str, object, str, object], ...] = (
    (4, "<H", 77, "file_source_id", 77),
    (6, "<H", 17, "global_encoding", 17),
    (26, "32s", b"made", "system_identifier", "made"),
    (58, "32s", b"by hand", "generating_software", "by hand"),
    (90, "<H", 166, "creation_day", 166),
    (92, "<H", 2024, "creation_year", 2024),
    (107, "<I", 5, "legacy_count", 5),
    (111, "<5I", (1, 2, 3, 4, 5), "legacy_by_return", (1, 2, 3, 4, 5)),
    (131, "<3d", (0.1, 0.2, 0.3), "scale", (0.1, 0.2, 0.3)),
    (155, "<3d", (10.0, 20.0, 30.0), "offset", (10.0, 20.0, 30.0)),
    # Maximum before minimum, axis by axis.
    (179, "<6d", (9.0, 1.0, 8.0, 2.0, 7.0, 3.0), "maximum", (9.0, 8.0, 7.0)),
    (179, "<6d", (9.0, 1.0, 8.0, 2.0, 7.0, 3.0), "minimum", (1.0, 2.0, 3.0)),
    (247, "<Q", 2**40, "point_count", 2**40),
    (255, "<15Q", tuple(range(15)), "by_return", tuple(range(15))),
)


def write_block(path: Path, *fields: tuple[int, str, object]) -> LasHeader:
    """Write a bare LAS 1.4 header with the fields struck in, and read it."""
    content = bytearray(375)
    for offset, layout, value in (
        (0, "4s", b"LASF"),
        (24, "<2B", (1, 4)),
        (94, "<H", 375),
        (96, "<I", 375),
        (104, "<B", 6),
        (105, "<H", 30),
        *fields,
    ):
        values = value if isinstance(value, tuple) else (value,)
        struct.pack_into(layout, content, offset, *values)
    path.write_bytes(content)
    return read_las_header(path)


@pytest.mark.parametrize("field", FIELDS, ids=lambda field: field[3])
def test_each_field_is_read_from_its_published_offset(
    tmp_path: Path, field: tuple[int, str, object, str, object]
) -> None:
    """A value at the offset of the standard comes back under its name."""
    offset, layout, value, name, expected = field
    assert getattr(write_block(tmp_path / "block.las", (offset, layout, value)), name) == expected


def test_flags_of_the_global_encoding() -> None:
    """Bit 0 is the kind of GPS time, bit 4 says that the CRS is WKT."""
    path = Path(__file__).parents[1] / "real"
    with_both = read_las_header(path / "test1_4.las")
    with_none = read_las_header(path / "srs_vertcs.las")
    assert (with_both.has_adjusted_time, with_both.has_wkt_flag) == (True, True)
    assert (with_none.has_adjusted_time, with_none.has_wkt_flag) == (False, False)


def test_published_lengths() -> None:
    """Header sizes, record lengths and record headers are those of the standard."""
    assert HEADER_SIZES == {0: 227, 1: 227, 2: 227, 3: 235, 4: 375, 5: 393}
    assert RECORD_LENGTHS == (20, 28, 26, 34, 57, 63, 30, 36, 38, 59, 67)
    assert (VLR_HEAD.size, EVLR_HEAD.size) == (54, 60)


def test_published_record_ids() -> None:
    """Records are found under the user and record ids of the standard."""
    assert (PROJECTION_USER, SPECIFICATION_USER) == ("LASF_Projection", "LASF_Spec")
    assert (DIRECTORY_RECORD, DOUBLES_RECORD, ASCII_RECORD) == (34735, 34736, 34737)
    assert (WKT_RECORD, EXTRA_BYTES_RECORD) == (2112, 4)


@pytest.mark.parametrize(
    ("point_format", "has_time"),
    [(0, False), (2, False), *((n, True) for n in (1, 3, 4, 5, 6, 10))],
)
def test_formats_with_gps_time(tmp_path: Path, point_format: int, *, has_time: bool) -> None:
    """All point formats but 0 and 2 carry GPS time."""
    header = write_block(
        tmp_path / "time.las", (104, "<B", point_format), (105, "<H", RECORD_LENGTHS[point_format])
    )
    assert header.has_gps_time is has_time


def test_the_high_bit_of_the_format_means_laz(tmp_path: Path) -> None:
    """LAZ keeps the header and adds 128 to the point format, as real files of four programs do."""
    header = write_block(tmp_path / "bit.laz", (104, "<B", 6 | 128))
    assert (header.compressed, header.point_format) == (True, 6)
    real = Path(__file__).parents[1] / "real"
    known = {
        "point-version-1-point-wise.laz": 0,
        "plane.laz": 3,
        "1_4_w_evlr.laz": 6,
        "autzen.copc.laz": 7,
    }
    for name, point_format in known.items():
        assert (real / name).read_bytes()[104] == point_format + 128
        header = read_las_header(real / name)
        assert (header.compressed, header.point_format) == (True, point_format)
    assert not read_las_header(real / "test1_4.las").compressed
