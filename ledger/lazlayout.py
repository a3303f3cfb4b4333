"""How the compressed points of a LAZ file are laid out, read before the decoder sees the file.

The decoder trusts some of these numbers with its memory: a damaged number of chunks makes it ask
for gigabytes and end the whole program, which no caller can catch. So they are held against the
room first.

Sources: LASzip specification (the "laszip encoded" record 22204 and the chunk table); measured with
lazrs 0.8.2: a chunk table of 4e9 entries aborts the process.
"""

from __future__ import annotations

import struct
from dataclasses import replace
from typing import BinaryIO

from ledger.dataclass import dataclass
from ledger.errors import MalformedFileError
from ledger.lasrecords import Record, find_payloads
from ledger.model.phrases import count_things

LASZIP_USER = "laszip encoded"
LASZIP_RECORD = 22204

POINT_BY_POINT = 1
LAYERED = 3

# Chunks of varying size carry their point counts in the table.
VARIABLE_CHUNKS = 0xFFFFFFFF

_ARITHMETIC_CODER = 0

_HEAD = struct.Struct("<HHBBHIIqqH")
_ITEM = struct.Struct("<HHH")
_OFFSET = struct.Struct("<q")
_TABLE = struct.Struct("<II")

# Layers by type of item: point, colour, colour with near infrared, wave packet; of extra bytes each
# has its own.
_LAYERS = {10: 9, 11: 1, 12: 2, 13: 1}
_BYTES_ITEM = 14

# Types and versions of items that are compressed at all: bytes, points of the old formats and of
# the new ones with what belongs to them. Others the decoder refuses when it is opened.
_KNOWN_ITEMS = (0, *range(6, 15))
_KNOWN_VERSIONS = range(1, 5)

# More than any header can state.
_UNKNOWN = 1 << 64


@dataclass(frozen=True)
class LazLayout:
    """Where compressed points lie and how many there can be.

    Args:
        compressor: 1 point by point, 2 in chunks, 3 in chunks of layers.
        chunk_size: points of a whole chunk; `VARIABLE_CHUNKS` when each says its own.
        layers: layers of a chunk of the layered compressor.
        table: offset of the chunk table, bytes; None without a readable table.
        chunks: number of chunks in the table; None without one.
        missing_bytes: bytes by which the file is too short for its chunk table, at least.
        fault: why the decoder must not be given this file; empty when it may.
    """

    compressor: int = 0
    chunk_size: int = 0
    layers: int = 0
    table: int | None = None
    chunks: int | None = None
    missing_bytes: int = 0
    fault: str = ""


@dataclass(frozen=True)
class HeldPoints:
    """How many points the chunks hold; all three agree where the chunks say it themselves.

    Args:
        certain: points of the chunks that are certainly whole.
        least: the least number that fits the chunks.
        most: the greatest.
    """

    certain: int
    least: int
    most: int


def count_held_points(
    stream: BinaryIO, layout: LazLayout, offset_to_points: int, record_length: int
) -> HeldPoints:
    """Return how many points the chunks hold.

    Args:
        stream: the file.
        layout: its layout, without a fault.
        offset_to_points: as stated in the header, bytes.
        record_length: bytes of one decoded point.

    Raises:
        MalformedFileError: a chunk passes the room for chunks.
    """
    if layout.table is None or layout.chunks is None:
        return HeldPoints(0, 0, _UNKNOWN)
    if layout.compressor == LAYERED:
        first = offset_to_points + _OFFSET.size
        exact = _walk_layered(stream, layout, first, record_length, layout.table)
        return HeldPoints(exact, exact, exact)
    if layout.chunk_size == VARIABLE_CHUNKS:
        return HeldPoints(0, 0, _UNKNOWN)
    certain = max(layout.chunks - 1, 0) * layout.chunk_size
    return HeldPoints(certain, certain + 1, layout.chunks * layout.chunk_size)


def _walk_layered(
    stream: BinaryIO, layout: LazLayout, position: int, record_length: int, end: int
) -> int:
    """Return the points of all layered chunks.

    A chunk begins with its first point, uncompressed, its number of points, and the size of each
    layer, for which the decoder will ask memory: 8 s and 4 GiB for one damaged byte, measured.
    """
    head = struct.Struct(f"<{1 + layout.layers}I")
    held = 0
    while position < end:
        stream.seek(position + record_length)
        raw = stream.read(head.size)
        points, *layers = head.unpack(raw) if len(raw) == head.size else (0, end)
        position += record_length + head.size + sum(layers)
        if position > end or points == 0:
            raise MalformedFileError(
                "a compressed chunk contradicts itself",
                found=f"{count_things(points, 'point')} up to byte {position}",
                expected=f"some, up to byte {end}",
            )
        held += points
    return held


def read_laz_layout(
    stream: BinaryIO,
    records: tuple[Record, ...],
    offset_to_points: int,
    record_length: int,
    file_size: int,
) -> LazLayout:
    """Return the layout of a compressed file; faults are told, not raised.

    Args:
        stream: the file.
        records: its variable length records.
        offset_to_points: as stated in the header, bytes.
        record_length: as stated in the header, bytes of one decoded point.
        file_size: bytes.
    """
    layout = read_laz_record(stream, records, record_length)
    return find_chunk_table(stream, layout, offset_to_points, file_size)


def read_laz_record(stream: BinaryIO, records: tuple[Record, ...], record_length: int) -> LazLayout:
    """Return what the LASzip record of a compressed file says; faults are told, not raised.

    Args:
        stream: the file.
        records: its variable length records.
        record_length: as stated in the header, bytes of one decoded point.
    """
    payload = next(find_payloads(stream, records, LASZIP_USER, LASZIP_RECORD), b"")
    if len(payload) < _HEAD.size:
        return LazLayout(fault="compressed points without a readable LASzip record")
    compressor, coder, _, _, _, _, chunk_size, _, _, count = _HEAD.unpack_from(payload)
    if len(payload) < _HEAD.size + count * _ITEM.size:
        return LazLayout(
            compressor, fault=f"the LASzip record ends before {count_things(count, 'item')}"
        )
    items = [_ITEM.unpack_from(payload, _HEAD.size + index * _ITEM.size) for index in range(count)]
    layers = sum(size if kind == _BYTES_ITEM else _LAYERS.get(kind, 0) for kind, size, _ in items)
    layout = LazLayout(compressor, chunk_size, layers)
    described = sum(size for _, size, _ in items)
    strange = [
        f"type {kind}, version {version}"
        for kind, _, version in items
        if kind not in _KNOWN_ITEMS or version not in _KNOWN_VERSIONS
    ]
    fault = ""
    if coder != _ARITHMETIC_CODER:
        fault = f"the LASzip record names an unknown coder ({coder})"
    elif strange:
        fault = f"the LASzip record names an unknown kind of item ({strange[0]})"
    elif described != record_length:
        fault = (
            f"the LASzip record describes points of {count_things(described, 'byte')}, "
            f"the header of {record_length}"
        )
    elif compressor != POINT_BY_POINT and chunk_size == 0:
        fault = "the LASzip record states chunks of 0 points"
    return replace(layout, fault=fault)


def find_chunk_table(
    stream: BinaryIO, layout: LazLayout, offset_to_points: int, file_size: int
) -> LazLayout:
    """Return a layout with what the chunk table says, when there is one inside the file.

    Args:
        stream: the file.
        layout: what its LASzip record says.
        offset_to_points: as stated in the header, bytes.
        file_size: bytes.
    """
    if layout.fault or layout.compressor == POINT_BY_POINT:
        return layout
    first_chunk = offset_to_points + _OFFSET.size
    table = _find_table(stream, offset_to_points, file_size)
    if table is None or table < first_chunk or table + _TABLE.size > file_size:
        end = max(table or 0, first_chunk) + _TABLE.size
        return replace(layout, missing_bytes=max(end - file_size, 1))
    stream.seek(table)
    chunks = _TABLE.unpack(stream.read(_TABLE.size))[1]
    # A file without points may have one chunk of nothing.
    if chunks > max(table - first_chunk, 1):
        fault = (
            f"the chunk table states {count_things(chunks, 'chunk')} in "
            f"{count_things(table - first_chunk, 'byte')} of points"
        )
        return replace(layout, fault=fault)
    return replace(layout, table=table, chunks=chunks)


def _find_table(stream: BinaryIO, offset_to_points: int, file_size: int) -> int | None:
    """Return the offset of the chunk table; a writer that could not seek back put it at the end."""
    for place in (offset_to_points, file_size - _OFFSET.size):
        stream.seek(max(place, 0))
        raw = stream.read(_OFFSET.size)
        if len(raw) == _OFFSET.size and (table := _OFFSET.unpack(raw)[0]) != -1:
            return int(table)
    return None
