"""Variable length records of a LAS file, walked without reading more than is needed.

A record is listed only when all of it lies inside the room it was given, so that no later reader is
led into point data or past the end of the file.

Source: ASPRS LAS 1.4 R15, variable length records (54 byte header) and extended variable length
records (60 byte header).
"""

from __future__ import annotations

import struct
from collections.abc import Iterator
from typing import BinaryIO

from ledger.dataclass import dataclass
from ledger.model.phrases import agree, count_things

VLR_HEAD = struct.Struct("<H16sHH32s")
EVLR_HEAD = struct.Struct("<H16sHQ32s")

PROJECTION_USER = "LASF_Projection"
SPECIFICATION_USER = "LASF_Spec"
WKT_RECORD = 2112
EXTRA_BYTES_RECORD = 4
_EXTRA_BYTES_ENTRY = 192

# Bytes of the data types 1 to 10; 11 to 20 are two of them, 21 to 30 three (both deprecated).
_EXTRA_SIZES = (1, 1, 2, 2, 4, 4, 8, 8, 4, 8)

# The largest number met in open data is 390; a hundred thousand is a damaged count, and walking
# millions of empty records would take minutes.
RECORDS_CEILING = 100_000

# No coordinate system takes a mebibyte to write down.
_PAYLOAD_CEILING = 1 << 20


@dataclass(frozen=True)
class Record:
    """One record and where its payload lies.

    Args:
        user_id: 16 bytes as text, from the first NUL on cut off.
        record_id: record id.
        size: payload, bytes.
        start: offset of the payload in the file, bytes.
        extended: whether it is an extended record.
    """

    user_id: str
    record_id: int
    size: int
    start: int
    extended: bool


@dataclass(frozen=True)
class Walk:
    """What walking a run of records gave.

    Args:
        records: those that lie wholly inside the room.
        note: why fewer than stated were found; empty when all were.
        missing_bytes: bytes by which the last one passes the room; 0 when it does not.
    """

    records: tuple[Record, ...] = ()
    note: str = ""
    missing_bytes: int = 0


@dataclass(frozen=True)
class WktText:
    """What the WKT records of a file hold.

    Args:
        text: of the first one; None when there is none.
        terminated: it ends with a NUL, as it has to; True when there is none.
        others: texts of further ones that differ from it.
        notes: oddities, one sentence each.
    """

    text: str | None = None
    terminated: bool = True
    others: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()


@dataclass(frozen=True)
class ExtraBytes:
    """The extra bytes of a point that records describe.

    Args:
        names: of the dimensions, in record order.
        size: bytes of one point that they take.
    """

    names: tuple[str, ...] = ()
    size: int = 0


def read_text(field: bytes) -> str:
    """Return a fixed-length text field: up to the first NUL, undecodable bytes replaced."""
    return field.split(b"\0")[0].decode("utf-8", "replace").rstrip()


def walk_records(stream: BinaryIO, start: int, stop: int, stated: int, *, extended: bool) -> Walk:
    """Return the records between two offsets of a file.

    Args:
        stream: the file.
        start: offset of the first record, bytes.
        stop: first byte that is no longer theirs.
        stated: number of records that the header states.
        extended: 60 byte headers in place of 54.
    """
    head = EVLR_HEAD if extended else VLR_HEAD
    kind = "extended variable length record" if extended else "variable length record"
    found: list[Record] = []
    position = start
    while len(found) < min(stated, RECORDS_CEILING):
        record = _read_head(stream, position, head, extended=extended)
        end = position + head.size if record is None else record.start + record.size
        if record is None or end > stop:
            lie = agree(len(found), "lies", "lie")
            told = count_things(stated, f"stated {kind}")
            note = f"{len(found)} of {told} {lie} inside the file's room for them"
            return Walk(tuple(found), note, max(end - stop, 0))
        found.append(record)
        position = end
    cut = f"only the first {len(found):,} of {count_things(stated, f'stated {kind}')} were walked"
    return Walk(tuple(found), cut if len(found) < stated else "")


def _read_head(
    stream: BinaryIO, position: int, head: struct.Struct, *, extended: bool
) -> Record | None:
    """Return the record whose header starts at `position`, or None where the file ends."""
    stream.seek(position)
    raw = stream.read(head.size)
    if len(raw) < head.size:
        return None
    _, user_id, record_id, size, _ = head.unpack(raw)
    return Record(read_text(user_id), record_id, size, position + head.size, extended)


def find_payloads(
    stream: BinaryIO, records: tuple[Record, ...], user_id: str, record_id: int
) -> Iterator[bytes]:
    """Yield the payload of each matching record, in file order; huge ones are passed over."""
    for record in records:
        matches = record.user_id == user_id and record.record_id == record_id
        if matches and record.size <= _PAYLOAD_CEILING:
            stream.seek(record.start)
            yield stream.read(record.size)


def read_wkt(stream: BinaryIO, records: tuple[Record, ...]) -> WktText:
    """Return the text of the first WKT record, and what is to be known of it and of others."""
    payloads = list(find_payloads(stream, records, PROJECTION_USER, WKT_RECORD))
    if not payloads:
        return WktText()
    raws = [payload.split(b"\0")[0] for payload in payloads]
    notes = []
    try:
        text = raws[0].decode("utf-8")
    except UnicodeDecodeError:
        text = raws[0].decode("latin-1")
        notes.append("the WKT record is not UTF-8; it was read as Latin-1")
    others = tuple(raw.decode("utf-8", "replace") for raw in raws[1:] if raw != raws[0])
    if others:
        notes.append(f"{len(payloads)} WKT records differ; the first was taken")
    return WktText(text, b"\0" in payloads[0], others, tuple(notes))


def read_extra_bytes(stream: BinaryIO, records: tuple[Record, ...]) -> ExtraBytes:
    """Return the described extra bytes, in record order."""
    names, size = [], 0
    for payload in find_payloads(stream, records, SPECIFICATION_USER, EXTRA_BYTES_RECORD):
        for entry in range(0, len(payload) - _EXTRA_BYTES_ENTRY + 1, _EXTRA_BYTES_ENTRY):
            names.append(read_text(payload[entry + 4 : entry + 36]))
            size += _measure_extra(payload[entry + 2], payload[entry + 3])
    return ExtraBytes(tuple(names), size)


def _measure_extra(kind: int, options: int) -> int:
    """Return the bytes of one described dimension; of an undocumented one, its options say it."""
    if kind == 0:
        return options
    times, which = divmod(kind - 1, len(_EXTRA_SIZES))
    return _EXTRA_SIZES[which] * (times + 1)
