"""GeoTIFF keys as LAS stores them: three records, read key by key.

One unreadable key costs that key and a note, never the others.

Source: OGC GeoTIFF 1.1 (19-008r4), clause 7.1, for the key directory; ASPRS LAS 1.4 R15, records
34735, 34736 and 34737, for how a LAS file carries it.
"""

from __future__ import annotations

import struct
from collections.abc import Iterator

from ledger.model.phrases import count_things

GeoKeys = dict[int, int | float | str]

DIRECTORY_RECORD = 34735
DOUBLES_RECORD = 34736
ASCII_RECORD = 34737

_ENTRY = struct.Struct("<4H")
_NAMED = 5


def read_geo_keys(
    directory: bytes, doubles: bytes | None, texts: bytes | None
) -> tuple[GeoKeys, tuple[str, ...]]:
    """Return the keys that can be read, and what has to be noted of the others.

    Args:
        directory: payload of record 34735.
        doubles: payload of record 34736; None when the file has none.
        texts: payload of record 34737; None when the file has none.

    Returns:
        Values by key id: whole numbers for codes, floats, or text without its final bar. Of a key
        with several doubles the first is kept, which is all that a coordinate system needs.
    """
    if len(directory) < _ENTRY.size:
        return {}, ("the GeoTIFF key directory is empty",)
    stated = _ENTRY.unpack_from(directory)[3]
    room = len(directory) // _ENTRY.size - 1
    notes = []
    if stated > room:
        notes.append(f"the GeoTIFF key directory states {stated} keys and holds {room}")
    keys: GeoKeys = {}
    lost: list[int] = []
    zeros = 0
    for index in range(min(stated, room)):
        key, location, count, value = _ENTRY.unpack_from(directory, (index + 1) * _ENTRY.size)
        if key == 0:
            zeros += 1
            continue
        read = _read_value(location, count, value, doubles, texts)
        if read is None:
            lost.append(key)
        else:
            keys[key] = read
    return keys, (*notes, *_note_lost(lost, zeros))


def _note_lost(lost: list[int], zeros: int) -> Iterator[str]:
    """Yield one note for each kind of loss, however many keys are lost."""
    if zeros:
        entries = count_things(zeros, "entry", "entries")
        yield f"the GeoTIFF key directory holds {entries} without a key, left out"
    if len(lost) == 1:
        yield f"GeoTIFF key {lost[0]} lies outside its record, left out"
    elif lost:
        named = ", ".join(str(key) for key in lost[:_NAMED])
        more = ", …" if len(lost) > _NAMED else ""
        yield f"{len(lost)} GeoTIFF keys point outside their records, left out: {named}{more}"


def _read_value(
    location: int, count: int, value: int, doubles: bytes | None, texts: bytes | None
) -> int | float | str | None:
    """Return the value of one directory entry, or None where it points to nothing."""
    if location == 0:
        return value
    if location == DOUBLES_RECORD and doubles is not None and (value + 1) * 8 <= len(doubles):
        return float(struct.unpack_from("<d", doubles, value * 8)[0])
    if location == ASCII_RECORD and texts is not None and value + count <= len(texts):
        written = texts[value : value + count].split(b"\0")[0]
        return written.decode("utf-8", "replace").rstrip("|").strip()
    return None
