"""The words of a point: its fields as 64-bit numbers, alike in every point format.

The table of fields and bits is in `docs/reference/fingerprint.md`. Source of fields and ranges:
ASPRS LAS 1.4 R15, point data record formats 0 to 10.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from ledger.model.chunk import PointChunk

Words = Mapping[str, NDArray[np.int64] | NDArray[np.uint64]]

EXTRA_PREFIX = "extra:"

# One unit holds both ways of storing it exactly: whole degrees (formats 0 to 5) and 0.006 degrees.
_ANGLE_UNITS_IN_DEGREE = 500
_ANGLE_UNITS_IN_STEP = 3

# Field and lowest bit, by word.
_PULSE_BITS = {
    "pulse": {"return_number": 0, "number_of_returns": 8, "point_source_id": 16},
}
_ATTRIBUTE_BITS = {
    "attributes": {
        "intensity": 0,
        "classification": 16,
        "user_data": 24,
        "synthetic": 32,
        "key_point": 33,
        "withheld": 34,
        "overlap": 35,
        "scan_direction_flag": 36,
        "edge_of_flight_line": 37,
        "scanner_channel": 40,
    },
    "colour": {"red": 0, "green": 16, "blue": 32, "nir": 48},
    "packet": {"wavepacket_index": 0, "wavepacket_size": 8},
    "packet-offset": {"wavepacket_offset": 0},
}
_PACKET_FLOATS = {
    "packet-place": ("return_point_wave_location", "x_t"),
    "packet-line": ("y_t", "z_t"),
}


def make_pulse_words(chunk: PointChunk) -> Words:
    """Return GPS time as its bits, and returns with point source, (n,) each.

    Fields that were not decoded, or that the format does not have, add nothing.
    """
    words = _pack(chunk, _PULSE_BITS)
    if "gps_time" in chunk.names:
        # As bits: a time that is no number, or a negative zero, is a value like any other.
        words["time"] = np.ascontiguousarray(chunk["gps_time"], np.float64).view(np.uint64)
    return words


def make_attribute_words(chunk: PointChunk) -> Words:
    """Return every other field, extra bytes by name and type, (n,) each."""
    words = _pack(chunk, _ATTRIBUTE_BITS)
    angle = _read_angle(chunk)
    if angle is not None:
        words["angle"] = angle.view(np.uint64)
    for word, (low, high) in _PACKET_FLOATS.items():
        if low in chunk.names:
            words[word] = _bits_32(chunk[low]) | (_bits_32(chunk[high]) << np.uint64(32))
    for name in sorted(chunk.names):
        if name.startswith(EXTRA_PREFIX):
            words.update(_make_extra_words(name, chunk[name]))
    return words


def _pack(
    chunk: PointChunk, table: Mapping[str, Mapping[str, int]]
) -> dict[str, NDArray[np.uint64]]:
    words: dict[str, NDArray[np.uint64]] = {}
    for word, places in table.items():
        for name, bit in places.items():
            if name not in chunk.names:
                continue
            part = chunk[name].astype(np.uint64)
            if bit:
                part <<= np.uint64(bit)
            if word in words:
                words[word] |= part
            else:
                words[word] = part
    return words


def _read_angle(chunk: PointChunk) -> NDArray[np.int64] | None:
    """Return the scan angle in units of 0.002 degrees, (n,)."""
    if "scan_angle" in chunk.names:
        return chunk["scan_angle"].astype(np.int64) * _ANGLE_UNITS_IN_STEP
    if "scan_angle_rank" in chunk.names:
        return chunk["scan_angle_rank"].astype(np.int64) * _ANGLE_UNITS_IN_DEGREE
    return None


def _bits_32(values: NDArray[np.generic]) -> NDArray[np.uint64]:
    return np.ascontiguousarray(values, np.float32).view(np.uint32).astype(np.uint64)


def _make_extra_words(name: str, values: NDArray[np.generic]) -> dict[str, NDArray[np.uint64]]:
    kind = values.dtype.str.lstrip("<>|=")
    columns = values.reshape(len(values), -1)
    words = {}
    for place in range(columns.shape[1]):
        words[f"{name}/{kind}/{place}"] = _widen(columns[:, place])
    return words


def _widen(values: NDArray[np.generic]) -> NDArray[np.uint64]:
    if values.dtype.kind == "f":
        return np.ascontiguousarray(values, np.float64).view(np.uint64)
    if values.dtype.kind == "i":
        return values.astype(np.int64).view(np.uint64)
    return values.astype(np.uint64)
