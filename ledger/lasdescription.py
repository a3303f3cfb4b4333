"""What the variable length records of a LAS file say of all its points.

Tiles of one export have the same records byte for byte, and reading them takes most of the time of
opening a tile. So a reader remembers what it read; where the records lie and how many there are is
part of what has to be the same. Extended records lie behind the points, and are read in each file.
"""

from __future__ import annotations

from typing import BinaryIO, NamedTuple

from ledger.copcinfo import read_copc_info
from ledger.dataclass import dataclass
from ledger.geokeys import (
    ASCII_RECORD,
    DIRECTORY_RECORD,
    DOUBLES_RECORD,
    GeoKeys,
    read_geo_keys,
)
from ledger.lasrecords import (
    EVLR_HEAD,
    PROJECTION_USER,
    ExtraBytes,
    Record,
    Walk,
    WktText,
    find_payloads,
    read_extra_bytes,
    read_wkt,
    walk_records,
)
from ledger.lazlayout import LazLayout, find_chunk_table, read_laz_record
from ledger.model.copc import CopcInfo
from ledger.model.header import VlrFacts

# Longer runs of records are not worth comparing, and remembered bytes take memory.
_REMEMBERED_BYTES = 1 << 16
_REMEMBERED = 64


class Stated(NamedTuple):
    """What a header states of its records, and of what they are held against.

    Args:
        first: offset of the first record, bytes.
        offset_to_points: bytes.
        vlr_count: number of records before the points.
        evlr_start: offset of the first extended one, bytes; 0 for none.
        evlr_count: number of extended ones.
        record_length: bytes of one point record.
        compressed: whether the points are compressed.
        has_points: whether there are any; the number is no matter of the records.
    """

    first: int
    offset_to_points: int
    vlr_count: int
    evlr_start: int
    evlr_count: int
    record_length: int
    compressed: bool
    has_points: bool


@dataclass(frozen=True)
class Records:
    """What the records say, whatever lies behind them.

    Args:
        vlrs: the records, extended ones last.
        wkt: what the WKT records hold.
        geo_keys: GeoTIFF keys by id; None without a key directory.
        extra: the extra bytes that are described.
        layout: what the LASzip record says; None where points are not compressed.
        copc: what the COPC record says; None without one.
        missing_bytes: bytes by which the file is too short for extended records, at least.
        notes: oddities of the walk, one sentence each.
        later_notes: oddities of what stands in the records.
    """

    vlrs: tuple[VlrFacts, ...]
    wkt: WktText
    geo_keys: GeoKeys | None
    extra: ExtraBytes
    layout: LazLayout | None
    copc: CopcInfo | None
    missing_bytes: int
    notes: tuple[str, ...]
    later_notes: tuple[str, ...]


class Description(NamedTuple):
    """What one file says of all its points, before the first of them.

    Args:
        records: what its records say.
        points_fault: why compressed points must not be given to a decoder; empty otherwise.
        missing_bytes: bytes by which the file is too short, at least.
        notes: oddities, one sentence each.
    """

    records: Records
    points_fault: str
    missing_bytes: int
    notes: tuple[str, ...]


class DescriptionReader:
    """Reads the records of one file after another."""

    def __init__(self) -> None:
        """Start with nothing remembered."""
        self._known: dict[tuple[bytes, Stated], Records] = {}

    def read(self, stream: BinaryIO, stated: Stated, file_size: int) -> Description:
        """Return what a file says.

        Args:
            stream: the file, whose header can be followed.
            stated: what its header states.
            file_size: bytes.
        """
        records = self._recall(stream, stated, file_size)
        fault, missing = "", records.missing_bytes
        if records.layout is not None:
            layout = find_chunk_table(stream, records.layout, stated.offset_to_points, file_size)
            fault = layout.fault
            missing = max(missing, layout.missing_bytes if stated.has_points else 0)
        told = (fault,) if fault else ()
        return Description(records, fault, missing, (*records.notes, *told, *records.later_notes))

    def _recall(self, stream: BinaryIO, stated: Stated, file_size: int) -> Records:
        size = stated.offset_to_points - stated.first
        if stated.evlr_count or size > _REMEMBERED_BYTES:
            return _read_records(stream, stated, file_size)
        stream.seek(stated.first)
        key = stream.read(size), stated
        known = self._known.get(key)
        if known is None:
            known = _read_records(stream, stated, file_size)
            if len(self._known) < _REMEMBERED:
                self._known[key] = known
        return known


def _read_records(stream: BinaryIO, stated: Stated, file_size: int) -> Records:
    """Walk both runs of records and read those that say something about the whole file."""
    plain = walk_records(
        stream, stated.first, stated.offset_to_points, stated.vlr_count, extended=False
    )
    extended = _walk_extended(stream, stated, file_size)
    found = plain.records + extended.records
    wkt = read_wkt(stream, found)
    keys, key_notes = _read_keys(stream, found)
    layout = None
    if stated.compressed:
        layout = read_laz_record(stream, plain.records, stated.record_length)
    return Records(
        vlrs=tuple(VlrFacts(r.user_id, r.record_id, r.size, r.extended) for r in found),
        wkt=wkt,
        geo_keys=keys,
        extra=read_extra_bytes(stream, plain.records),
        layout=layout,
        copc=read_copc_info(stream, found),
        missing_bytes=extended.missing_bytes,
        notes=tuple(filter(None, (plain.note, extended.note))),
        later_notes=(*wkt.notes, *key_notes),
    )


def _walk_extended(stream: BinaryIO, stated: Stated, file_size: int) -> Walk:
    if stated.evlr_count == 0:
        return Walk()
    if stated.evlr_start < stated.offset_to_points:
        return Walk(note=f"extended records are stated to begin at byte {stated.evlr_start}")
    if stated.evlr_start + EVLR_HEAD.size > file_size:
        missing = stated.evlr_start + EVLR_HEAD.size - file_size
        return Walk(note="the file ends before its extended records", missing_bytes=missing)
    return walk_records(stream, stated.evlr_start, file_size, stated.evlr_count, extended=True)


def _read_keys(
    stream: BinaryIO, records: tuple[Record, ...]
) -> tuple[GeoKeys | None, tuple[str, ...]]:
    """Return the GeoTIFF keys, None without a key directory, and notes."""
    directory, doubles, texts = (
        next(find_payloads(stream, records, PROJECTION_USER, record), None)
        for record in (DIRECTORY_RECORD, DOUBLES_RECORD, ASCII_RECORD)
    )
    return (None, ()) if directory is None else read_geo_keys(directory, doubles, texts)
