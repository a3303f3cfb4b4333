"""Faults of a survey that lie in headers, records and bytes.

Offsets: ASPRS LAS 1.4 R15, table 3 (public header block).
"""

from __future__ import annotations

import struct
from datetime import date
from pathlib import Path
from typing import Self

from ledger.testing.layout import GeoKeys
from ledger.testing.tiles import Patch, TileName, TileSet

_GLOBAL_ENCODING = 6
_POINT_OFFSET = 96
_VLR_COUNT = 100
_POINT_FORMAT = 104
_RECORD_LENGTH = 105
_LEGACY_COUNT = 107
_LEGACY_RETURNS = 111
_MAXIMUM_X = 179
_COUNT = 247
_RETURNS = 255

_TIME_FLAG = 1
_WKT_FLAG = 16


def read_number(path: Path, offset: int, form: str) -> int:
    """Return one little-endian whole number of a file; `form` as in `struct`."""
    with path.open("rb") as stream:
        stream.seek(offset)
        (value,) = struct.unpack("<" + form, stream.read(struct.calcsize("<" + form)))
    return int(value)


def write_bytes(path: Path, offset: int, content: bytes) -> None:
    """Overwrite some bytes of a file."""
    with path.open("r+b") as stream:
        stream.seek(offset)
        stream.write(content)


def cut_file(path: Path, length: int) -> None:
    """Cut a file to `length` bytes."""
    with path.open("r+b") as stream:
        stream.truncate(length)


def _is_las_1_4(path: Path) -> bool:
    return read_number(path, 25, "B") >= 4


def _put(offset: int, form: str, *values: float) -> Patch:
    content = struct.pack("<" + form, *values)
    return lambda path: write_bytes(path, offset, content)


class HeaderFaults(TileSet):
    """Faults of the public header block and of the CRS records."""

    def scale(self, tile: TileName, value: float, value_z: float | None = None) -> Self:
        """Store coordinates with another scale."""
        return self.set_layout(tile, scale=value, scale_z=value_z)

    def software(self, tile: TileName, text: str) -> Self:
        """Write another name of the generating software."""
        return self.set_layout(tile, software=text)

    def created(self, tile: TileName, day: date | None) -> Self:
        """Write another creation date; None for zeros."""
        return self.set_layout(tile, created=day)

    def crs(self, tile: TileName, crs: str) -> Self:
        """Write CRS records that say something else; the points stay where they are."""
        return self.set_layout(tile, crs=crs, wkt=None, geo_keys=None)

    def no_crs(self, tile: TileName) -> Self:
        """Write no CRS record."""
        return self.set_layout(tile, records="none")

    def wkt_text(self, tile: TileName, text: str) -> Self:
        """Write this text as the WKT record."""
        return self.set_layout(tile, wkt=text, records="wkt")

    def geo_keys(self, tile: TileName, keys: GeoKeys) -> Self:
        """Write these GeoTIFF keys."""
        return self.set_layout(tile, geo_keys=keys, records="geotiff")

    def both_crs_records(self, tile: TileName, keys: GeoKeys | None = None) -> Self:
        """Write a WKT record and GeoTIFF keys; `keys` to let them disagree."""
        return self.set_layout(tile, geo_keys=keys, records="both")

    def time_flag(self, tile: TileName, *, adjusted: bool) -> Self:
        """Let the header claim adjusted standard GPS time, or seconds of the week."""
        return self.set_layout(tile, adjusted_time=adjusted)

    def wkt_flag(self, tile: TileName, *, on: bool) -> Self:
        """Set or clear the flag that says the CRS is WKT, whatever records there are."""

        def put(path: Path) -> None:
            encoding = read_number(path, _GLOBAL_ENCODING, "H")
            encoding = encoding | _WKT_FLAG if on else encoding & ~_WKT_FLAG
            write_bytes(path, _GLOBAL_ENCODING, struct.pack("<H", encoding))

        return self.damage(tile, put)

    def wrong_count(self, tile: TileName, count: int) -> Self:
        """Let the header state another number of points."""

        def put(path: Path) -> None:
            if _is_las_1_4(path):
                write_bytes(path, _COUNT, struct.pack("<Q", count))
            if not _is_las_1_4(path) or read_number(path, _LEGACY_COUNT, "I"):
                write_bytes(path, _LEGACY_COUNT, struct.pack("<I", count))

        return self.damage(tile, put)

    def legacy_count(self, tile: TileName, count: int) -> Self:
        """Write another legacy number of points."""
        return self.damage(tile, _put(_LEGACY_COUNT, "I", count))

    def wrong_return_counts(self, tile: TileName, *counts: int) -> Self:
        """State other numbers of points by return, from the first return; the rest stays."""

        def put(path: Path) -> None:
            if _is_las_1_4(path):
                write_bytes(path, _RETURNS, struct.pack(f"<{len(counts)}Q", *counts))
            else:
                write_bytes(path, _LEGACY_RETURNS, struct.pack(f"<{len(counts)}I", *counts))

        return self.damage(tile, put)

    def wrong_box(self, tile: TileName, dx: float = 100.0) -> Self:
        """State a greatest X that is `dx` too large."""

        def put(path: Path) -> None:
            with path.open("rb") as stream:
                stream.seek(_MAXIMUM_X)
                (value,) = struct.unpack("<d", stream.read(8))
            write_bytes(path, _MAXIMUM_X, struct.pack("<d", value + dx))

        return self.damage(tile, put)

    def stored_scale(self, tile: TileName, *values: float) -> Self:
        """Overwrite X, Y, Z scale in the header alone; the stored numbers stay."""
        return self.damage(tile, _put(131, "3d", *values))

    def point_format_byte(self, tile: TileName, value: int) -> Self:
        """Write another point format byte."""
        return self.damage(tile, _put(_POINT_FORMAT, "B", value))

    def huge_vlr_count(self, tile: TileName, count: int = 0xFFFF_FFF0) -> Self:
        """State billions of variable length records."""
        return self.damage(tile, _put(_VLR_COUNT, "I", count))

    def offset_to_points(self, tile: TileName, value: int) -> Self:
        """State another place where the points begin."""
        return self.damage(tile, _put(_POINT_OFFSET, "I", value))


class FileFaults(TileSet):
    """Damage that copying, a full disk or a bad sector does."""

    def bad_signature(self, tile: TileName) -> Self:
        """Overwrite the four letters at the start."""
        return self.damage(tile, lambda path: write_bytes(path, 0, b"XXXX"))

    def empty_file(self, tile: TileName) -> Self:
        """Leave a file of no bytes."""
        return self.damage(tile, lambda path: cut_file(path, 0))

    def cut_inside_header(self, tile: TileName, length: int = 200) -> Self:
        """Cut the file before its public header block ends."""
        return self.damage(tile, lambda path: cut_file(path, length))

    def cut_share(self, tile: TileName, share: float) -> Self:
        """Keep the first `share` of the file's bytes."""
        return self.damage(tile, lambda path: cut_file(path, int(path.stat().st_size * share)))

    def cut_on_record(self, tile: TileName, records: int = 1) -> Self:
        """Cut the last records off a LAS file, on a record boundary."""
        return self.damage(tile, lambda path: _cut_records(path, records, extra=0))

    def cut_mid_record(self, tile: TileName) -> Self:
        """Cut a LAS file in the middle of its last record."""
        return self.damage(tile, lambda path: _cut_records(path, 1, extra=7))

    def corrupt_laz(self, tile: TileName, length: int = 64) -> Self:
        """Invert bytes in the middle of the compressed points."""

        def invert(path: Path) -> None:
            content = path.read_bytes()
            first = read_number(path, _POINT_OFFSET, "I")
            start = first + (len(content) - first) // 2
            write_bytes(path, start, bytes(255 - byte for byte in content[start : start + length]))

        return self.damage(tile, invert)

    def flip_byte(self, tile: TileName, offset: int) -> Self:
        """Invert one byte; a negative offset counts from the end."""

        def invert(path: Path) -> None:
            content = path.read_bytes()
            place = offset % len(content)
            write_bytes(path, place, bytes([255 - content[place]]))

        return self.damage(tile, invert)

    def append_bytes(self, tile: TileName, content: bytes = b"\0") -> Self:
        """Add bytes after the end of the file."""

        def append(path: Path) -> None:
            with path.open("ab") as stream:
                stream.write(content)

        return self.damage(tile, append)


def _cut_records(path: Path, records: int, extra: int) -> None:
    first = read_number(path, _POINT_OFFSET, "I")
    length = read_number(path, _RECORD_LENGTH, "H")
    stored = (path.stat().st_size - first) // length
    cut_file(path, first + (stored - records) * length + extra)
