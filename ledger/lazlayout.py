"""How the compressed points of a LAZ file are laid out, read before the decoder sees the file.

The decoder trusts some of these numbers with its memory: a damaged number of chunks makes it ask
for gigabytes and end the whole program, which no caller can catch. So they are held against the
room first.

Sources: LASzip specification (the "laszip encoded" record 22204 and the chunk table); measured with
lazrs 0.8.2: a chunk table of 4e9 entries aborts the process.
"""

from __future__ import annotations

import struct
from dataclasses import dataclass
from typing import BinaryIO

from ledger.lasrecords import Record, find_payloads

LASZIP_USER = "laszip encoded"
LASZIP_RECORD = 22204

POINT_BY_POINT = 1
LAYERED = 3

# Chunks of varying size carry their point counts in the table.
VARIABLE_CHUNKS = 0xFFFFFFFF

_HEAD = struct.Struct("<HHBBHIIqqH")
_ITEM = struct.Struct("<HHH")
_OFFSET = struct.Struct("<q")
_TABLE = struct.Struct("<II")
_COUNT = struct.Struct("<I")


@dataclass(frozen=True)
class LazLayout:
    """Where compressed points lie and how many there can be.

    Args:
        compressor: 1 point by point, 2 in chunks, 3 in chunks of layers.
        chunk_size: points of a whole chunk; `VARIABLE_CHUNKS` when each says its own.
        chunks: number of chunks in the table; None without a readable table.
        missing_bytes: bytes by which the file is too short for its chunk table, at least.
        fault: why the decoder must not be given this file; empty when it may.
    """

    compressor: int = 0
    chunk_size: int = 0
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
    stream: BinaryIO,
    layout: LazLayout,
    offset_to_points: int,
    record_length: int,
    chunks: list[tuple[int, int]],
) -> HeldPoints:
    """Return how many points the chunks hold.

    Args:
        stream: the file.
        layout: its layout.
        offset_to_points: as stated in the header, bytes.
        record_length: bytes of one decoded point.
        chunks: points and bytes of each chunk, as in the chunk table.
    """
    if layout.chunk_size == VARIABLE_CHUNKS:
        exact = sum(points for points, _ in chunks)
        return HeldPoints(exact, exact, exact)
    if layout.compressor != LAYERED:
        certain = max(len(chunks) - 1, 0) * layout.chunk_size
        return HeldPoints(certain, certain + 1, len(chunks) * layout.chunk_size)
    position, exact = offset_to_points + _OFFSET.size, 0
    for _, size in chunks:
        # A layered chunk begins with its first point, uncompressed, and its number of points.
        stream.seek(position + record_length)
        exact += _COUNT.unpack(stream.read(_COUNT.size))[0]
        position += size
    return HeldPoints(exact, exact, exact)


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
    payload = next(find_payloads(stream, records, LASZIP_USER, LASZIP_RECORD), b"")
    if len(payload) < _HEAD.size:
        return LazLayout(fault="compressed points without a readable LASzip record")
    compressor, _, _, _, _, _, chunk_size, _, _, items = _HEAD.unpack_from(payload)
    if len(payload) < _HEAD.size + items * _ITEM.size:
        return LazLayout(compressor, fault=f"the LASzip record ends before its {items} items")
    described = sum(
        _ITEM.unpack_from(payload, _HEAD.size + index * _ITEM.size)[1] for index in range(items)
    )
    if described != record_length:
        return LazLayout(
            compressor,
            fault=f"the LASzip record describes points of {described} bytes, "
            f"the header of {record_length}",
        )
    if compressor == POINT_BY_POINT:
        return LazLayout(compressor, chunk_size)
    if chunk_size == 0:
        return LazLayout(compressor, fault="the LASzip record states chunks of 0 points")
    return _read_table(stream, LazLayout(compressor, chunk_size), offset_to_points, file_size)


def _read_table(
    stream: BinaryIO, layout: LazLayout, offset_to_points: int, file_size: int
) -> LazLayout:
    """Add what the chunk table says, when there is one inside the file."""
    first_chunk = offset_to_points + _OFFSET.size
    table = _find_table(stream, offset_to_points, file_size)
    if table is None or table < first_chunk or table + _TABLE.size > file_size:
        end = max(table or 0, first_chunk) + _TABLE.size
        return LazLayout(
            layout.compressor, layout.chunk_size, missing_bytes=max(end - file_size, 1)
        )
    stream.seek(table)
    chunks = _TABLE.unpack(stream.read(_TABLE.size))[1]
    if chunks > table - first_chunk:
        fault = f"the chunk table states {chunks} chunks in {table - first_chunk} bytes of points"
        return LazLayout(layout.compressor, layout.chunk_size, fault=fault)
    return LazLayout(layout.compressor, layout.chunk_size, chunks)


def _find_table(stream: BinaryIO, offset_to_points: int, file_size: int) -> int | None:
    """Return the offset of the chunk table; a writer that could not seek back put it at the end."""
    for place in (offset_to_points, file_size - _OFFSET.size):
        stream.seek(max(place, 0))
        raw = stream.read(_OFFSET.size)
        if len(raw) == _OFFSET.size and (table := _OFFSET.unpack(raw)[0]) != -1:
            return int(table)
    return None
