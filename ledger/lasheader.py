"""The header of a LAS or LAZ file, read by hand before any library opens the file.

A library trusts the header with its memory: a damaged count of records keeps it busy for minutes.
So every number that sizes something is first held against the room in the file.

What makes a header an error is that its layout cannot be followed: no LAS signature, an unknown
version or point format, sizes and offsets that contradict each other. Whatever leaves the rest
readable is a note: the caller still learns all that the header says, and reading points then fails
or falls short with an error of its own.

Source of names, offsets and lengths: ASPRS LAS 1.4 R15 (public header block; point data records 0
to 10); LAS 1.5 R00 for the length of its block.
"""

from __future__ import annotations

import math
import os
import struct
from dataclasses import replace
from typing import BinaryIO, NamedTuple

from ledger.errors import MalformedFileError, ShortFileError, UnreadableFileError
from ledger.lasdescription import Description, DescriptionReader, Stated
from ledger.lasrecords import RECORDS_CEILING, VLR_HEAD, read_text
from ledger.model.copc import COPC_USER, INFO_RECORD
from ledger.model.header import LasHeader
from ledger.model.phrases import agree, count_things
from ledger.remote.files import Place, open_place
from ledger.signs import looks_like_las

# Bytes of the public header block by minor version.
HEADER_SIZES = {0: 227, 1: 227, 2: 227, 3: 235, 4: 375, 5: 393}

# Bytes of a point record by format, without extra bytes.
RECORD_LENGTHS = (20, 28, 26, 34, 57, 63, 30, 36, 38, 59, 67)

_BLOCK = struct.Struct("<4sHH16sBB32s32sHHHIIBHI5I12d")
_BLOCK_14 = struct.Struct("<QIQ15Q")
_BLOCK_14_AT = 235
_WAVEFORMS = struct.Struct("<Q")
_WAVEFORMS_AT = 227
_BLOCK_15 = struct.Struct("<ddH")
_BLOCK_15_AT = 375

# The two high bits of the format byte belong to compression; only the highest alone means LAZ.
_COMPRESSED = 0b1000_0000
_FORMAT_BITS = 0b0011_1111


class _Block(NamedTuple):
    """The public header block, unpacked; the meanings stand in `LasHeader`."""

    encoding: int
    source_id: int
    minor: int
    system: bytes
    software: bytes
    created: tuple[int, int]
    header_size: int
    offset_to_points: int
    vlr_count: int
    format_byte: int
    record_length: int
    legacy_count: int
    legacy_by_return: tuple[int, ...]
    doubles: tuple[float, ...]
    evlr_start: int
    evlr_count: int
    point_count: int
    by_return: tuple[int, ...]
    waveform_start: int
    time_range: tuple[float, float] | None
    time_offset: int


def read_las_header(path: Place) -> LasHeader:
    """Read the public header block and the records that matter.

    Args:
        path: a LAS or LAZ file, on a drive or in a store, versions 1.0 to 1.5.

    Raises:
        UnreadableFileError: the system refused to open or to read it.
        ShortFileError: it ends inside its header, or before its points begin.
        MalformedFileError: it is no LAS file, or its header contradicts itself.
        StoreError: the store that holds it was lost.
    """
    return HeaderReader().read(path)


class HeaderReader:
    """Reads the headers of many files; the records that files have alike are read once."""

    def __init__(self) -> None:
        """Start with nothing remembered."""
        self._descriptions = DescriptionReader()

    def read(self, path: Place) -> LasHeader:
        """Read the header of a file, as `read_las_header` does, which names what it raises."""
        try:
            with open_place(path) as stream:
                file_size = stream.seek(0, os.SEEK_END)
                stream.seek(0)
                block = _read_block(stream, file_size, str(path))
                _require_layout(block, file_size, str(path))
                described = self._descriptions.read(stream, _describe(block), file_size)
        except OSError as error:
            raise UnreadableFileError(
                "the file cannot be read", found=error.strerror or str(error), where=str(path)
            ) from error
        return _add_oddities(_make(block, described, file_size))


def _make(block: _Block, described: Description, file_size: int) -> LasHeader:
    records = described.records
    first = records.vlrs[0] if records.vlrs else None
    return LasHeader(
        version=f"1.{block.minor}",
        point_format=block.format_byte & _FORMAT_BITS,
        compressed=records.layout is not None,
        copc=first is not None and (first.user_id, first.record_id) == (COPC_USER, INFO_RECORD),
        record_length=block.record_length,
        point_count=block.point_count,
        legacy_count=block.legacy_count,
        by_return=block.by_return,
        legacy_by_return=block.legacy_by_return,
        scale=_triple(block.doubles[0:3]),
        offset=_triple(block.doubles[3:6]),
        minimum=_triple(block.doubles[7::2]),
        maximum=_triple(block.doubles[6::2]),
        global_encoding=block.encoding,
        file_source_id=block.source_id,
        system_identifier=read_text(block.system),
        generating_software=read_text(block.software),
        creation_day=block.created[0],
        creation_year=block.created[1],
        header_size=block.header_size,
        offset_to_points=block.offset_to_points,
        file_size=file_size,
        vlrs=records.vlrs,
        wkt=records.wkt.text,
        geo_keys=records.geo_keys,
        extra_dimensions=records.extra.names,
        missing_bytes=described.missing_bytes,
        vlr_count=block.vlr_count,
        evlr_count=block.evlr_count,
        evlr_start=block.evlr_start,
        waveform_start=block.waveform_start,
        time_range=block.time_range,
        time_offset=block.time_offset,
        wkt_terminated=records.wkt.terminated,
        other_wkts=records.wkt.others,
        described_bytes=records.extra.size,
        points_fault=described.points_fault,
        notes=described.notes,
        copc_info=records.copc,
    )


def _add_oddities(header: LasHeader) -> LasHeader:
    """Return a header with what its own numbers show to be odd."""
    missing, notes = _find_missing_points(header), _find_oddities(header)
    if not missing and not notes:
        return header
    missing = max(header.missing_bytes, missing)
    return replace(header, missing_bytes=missing, notes=(*header.notes, *notes))


def _triple(values: tuple[float, ...]) -> tuple[float, float, float]:
    return values[0], values[1], values[2]


def _read_block(stream: BinaryIO, file_size: int, where: str) -> _Block:
    """Unpack the public header block, as long as its version makes it."""
    raw = stream.read(max(HEADER_SIZES.values()))
    if not raw:
        raise ShortFileError("the file is empty", expected="a LAS header", where=where)
    if not looks_like_las(raw):
        raise MalformedFileError(
            "this is not a LAS file", found=repr(raw[:4])[1:], expected="'LASF'", where=where
        )
    major, minor = raw[24:26] if len(raw) >= _BLOCK.size else (1, 2)
    if major != 1 or minor not in HEADER_SIZES:
        raise MalformedFileError(
            "unknown LAS version", found=f"{major}.{minor}", expected="1.0 to 1.5", where=where
        )
    if file_size < HEADER_SIZES[minor]:
        raise ShortFileError(
            "the file ends inside its header",
            found=count_things(file_size, "byte"),
            expected=f"{HEADER_SIZES[minor]:,} or more",
            where=where,
            remedy="copy it again from where it was made",
        )
    return _unpack(raw, minor)


def _unpack(raw: bytes, minor: int) -> _Block:
    values = _BLOCK.unpack_from(raw)
    legacy_count, legacy_by_return = values[15], values[16:21]
    evlr_start, evlr_count, count, by_return = 0, 0, legacy_count, legacy_by_return
    if minor >= 4:
        evlr_start, evlr_count, count, *returns = _BLOCK_14.unpack_from(raw, _BLOCK_14_AT)
        by_return = tuple(returns)
    latest, earliest, time_offset = 0.0, 0.0, 0
    if minor >= 5:
        latest, earliest, time_offset = _BLOCK_15.unpack_from(raw, _BLOCK_15_AT)
    return _Block(
        source_id=values[1],
        encoding=values[2],
        minor=minor,
        system=values[6],
        software=values[7],
        created=(values[8], values[9]),
        header_size=values[10],
        offset_to_points=values[11],
        vlr_count=values[12],
        format_byte=values[13],
        record_length=values[14],
        legacy_count=legacy_count,
        legacy_by_return=legacy_by_return,
        doubles=values[21:33],
        evlr_start=evlr_start,
        evlr_count=evlr_count,
        point_count=count,
        by_return=by_return,
        waveform_start=_WAVEFORMS.unpack_from(raw, _WAVEFORMS_AT)[0] if minor >= 3 else 0,
        time_range=(earliest, latest) if minor >= 5 else None,
        time_offset=time_offset,
    )


def _require_layout(block: _Block, file_size: int, where: str) -> None:
    """Refuse a header whose own numbers cannot all be followed."""
    least = HEADER_SIZES[block.minor]
    if block.header_size < least:
        raise MalformedFileError(
            f"the header size contradicts LAS 1.{block.minor}",
            found=count_things(block.header_size, "byte"),
            expected=f"{least:,} or more",
            where=where,
        )
    if block.offset_to_points < block.header_size:
        raise MalformedFileError(
            "points would begin inside the header",
            found=f"offset {block.offset_to_points}",
            expected=f"{block.header_size} or more",
            where=where,
        )
    if block.offset_to_points > file_size:
        raise ShortFileError(
            "the file ends before its points begin",
            found=count_things(file_size, "byte"),
            expected=f"points at byte {block.offset_to_points:,}",
            where=where,
            remedy="copy it again from where it was made",
        )
    _require_format(block, where)
    room = block.offset_to_points - block.header_size
    if block.vlr_count * VLR_HEAD.size > room or block.vlr_count > RECORDS_CEILING:
        most = min(room // VLR_HEAD.size, RECORDS_CEILING)
        raise MalformedFileError(
            "the count of variable length records is impossible",
            found=str(block.vlr_count),
            expected=f"{most} at most in {count_things(room, 'byte')}",
            where=where,
        )


def _require_format(block: _Block, where: str) -> None:
    """Refuse a point format that is not in the standard, and records too short for theirs."""
    point_format = block.format_byte & _FORMAT_BITS
    high_bits = block.format_byte & ~_FORMAT_BITS
    if point_format >= len(RECORD_LENGTHS) or high_bits not in (0, _COMPRESSED):
        raise MalformedFileError(
            "unknown point data record format",
            found=str(block.format_byte),
            expected="0 to 10, or 128 to 138 for LAZ",
            where=where,
        )
    if block.record_length < RECORD_LENGTHS[point_format]:
        raise MalformedFileError(
            f"point records are too short for format {point_format}",
            found=count_things(block.record_length, "byte"),
            expected=f"{RECORD_LENGTHS[point_format]:,} or more",
            where=where,
        )


def _describe(block: _Block) -> Stated:
    return Stated(
        first=block.header_size,
        offset_to_points=block.offset_to_points,
        vlr_count=block.vlr_count,
        evlr_start=block.evlr_start,
        evlr_count=block.evlr_count,
        record_length=block.record_length,
        compressed=bool(block.format_byte & _COMPRESSED),
        has_points=block.point_count > 0,
    )


def _find_missing_points(header: LasHeader) -> int:
    """Return the bytes that uncompressed points lack."""
    if header.compressed:
        return 0
    end = header.offset_to_points + header.point_count * header.record_length
    return max(end - header.file_size, 0)


def _are_finite(values: tuple[float, ...]) -> bool:
    return all(map(math.isfinite, values))


def _find_oddities(header: LasHeader) -> tuple[str, ...]:
    """Return a note for each value that points cannot be read with, or that misleads."""
    notes = []
    if min(header.scale) <= 0 or not _are_finite(header.scale + header.offset):
        notes += [
            f"{axis} {name} is {value!r}"
            for name, values in (("scale", header.scale), ("offset", header.offset))
            for axis, value in zip("XYZ", values, strict=True)
            if not math.isfinite(value) or (name == "scale" and value <= 0)
        ]
    if not _are_finite(header.minimum + header.maximum):
        notes.append("the box in the header is not all numbers")
    stated = header.point_count * header.record_length
    missing = _find_missing_points(header)
    if missing:
        held = (header.file_size - header.offset_to_points) // header.record_length
        notes.append(
            f"the file has room for {held:,} of {count_things(header.point_count, 'stated point')}"
        )
    elif not header.compressed and header.version < "1.3":
        rest = header.file_size - header.offset_to_points - stated
        if rest:
            told = f"{count_things(rest, 'byte')} {agree(rest, 'follows', 'follow')}"
            notes.append(f"{told} the last stated point")
    return tuple(notes)
