"""The words of a point: its fields as 64-bit numbers, alike in every point format.

A word is a sum of fields, each moved up by a number of bits so that no two overlap. Fields stay in
the narrow type they are stored in until a block of them is packed. The table of words and bits,
with the reasons, is in `docs/reference/fingerprint.md`. Source of fields and ranges: ASPRS LAS 1.4
R15, point data record formats 0 to 10.

Invariant: a field that is absent and a field that is zero give the same word.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from ledger.model.chunk import PointChunk

Uint64Array = NDArray[np.uint64]

LEVELS = ("geometry", "pulse", "full")

EXTRA_PREFIX = "extra:"


class Part(NamedTuple):
    """One field in a word.

    Args:
        values: the field as unsigned numbers of its own width, (n,).
        bit: how far it is moved up.
    """

    values: NDArray[np.unsignedinteger]
    bit: int


# Words by level: fields with the type they are stored in and the bit they are moved up to.
_TABLE: Mapping[str, Mapping[str, Mapping[str, tuple[str, int]]]] = {
    "pulse": {
        # As bits: a time that is no number, or a negative zero, is a value like any other.
        "time": {"gps_time": ("<f8", 0)},
        "returns": {
            "return_number": ("u1", 0),
            "number_of_returns": ("u1", 8),
            "point_source_id": ("<u2", 16),
        },
    },
    "full": {
        "attributes": {
            "intensity": ("<u2", 0),
            "classification": ("u1", 16),
            "user_data": ("u1", 24),
            "synthetic": ("u1", 32),
            "key_point": ("u1", 33),
            "withheld": ("u1", 34),
            "overlap": ("u1", 35),
            "scan_direction_flag": ("u1", 36),
            "edge_of_flight_line": ("u1", 37),
            "scanner_channel": ("u1", 40),
            "scan_angle": ("<i2", 48),
        },
        "colour": {
            "red": ("<u2", 0),
            "green": ("<u2", 16),
            "blue": ("<u2", 32),
            "nir": ("<u2", 48),
        },
        "packet": {"wavepacket_index": ("u1", 0), "wavepacket_size": ("<u4", 8)},
        "packet-offset": {"wavepacket_offset": ("<u8", 0)},
        "packet-place": {"return_point_wave_location": ("<f4", 0), "x_t": ("<f4", 32)},
        "packet-line": {"y_t": ("<f4", 0), "z_t": ("<f4", 32)},
    },
}


def make_words(chunk: PointChunk, level: str) -> dict[str, list[Part]]:
    """Return what one level adds to the levels below it, by name of the word.

    Args:
        chunk: the points; fields that it does not have add nothing.
        level: one of `LEVELS`.
    """
    if level == "geometry":
        axes = {"x": chunk.x, "y": chunk.y, "z": chunk.z}
        return {word: [Part(_read_bits(values), 0)] for word, values in axes.items()}
    words: dict[str, list[Part]] = {}
    for word, fields in _TABLE[level].items():
        parts = [
            Part(_read_bits(_read_field(chunk, name, kind)), bit)
            for name, (kind, bit) in fields.items()
            if name in chunk.names or _has_rank(chunk, name)
        ]
        if parts:
            words[word] = parts
    if level == "full":
        words.update(_make_extra_words(chunk))
    return words


def list_fields(chunk: PointChunk) -> Iterator[tuple[str, NDArray[np.unsignedinteger]]]:
    """Yield every field beside the coordinates as unsigned numbers of its own width, (n,).

    A field that another point format lacks is yielded all the same; where it is zero throughout it
    is equal to an absent one.
    """
    for level in LEVELS[1:]:
        for fields in _TABLE[level].values():
            for name, (kind, _) in fields.items():
                if name in chunk.names or _has_rank(chunk, name):
                    yield name, _read_bits(_read_field(chunk, name, kind))
    for word, parts in _make_extra_words(chunk):
        yield word.removeprefix(EXTRA_PREFIX), parts[0].values


def pack(
    parts: list[Part], block: slice, word: Uint64Array, spare: Uint64Array
) -> NDArray[np.unsignedinteger] | None:
    """Return one word of one block of points, (points of the block,).

    Args:
        parts: the fields of the word.
        block: which points.
        word: room for the word, (points of the block,).
        spare: room for one field, the same size.

    Returns:
        `word`, or the field itself where it is the whole word; None where every field is zero.
    """
    if parts[0].values.itemsize == word.itemsize:
        return parts[0].values[block]
    packed: Uint64Array | None = None
    for values, bit in parts:
        piece = values[block]
        # Most flags of most files are zero, and a zero adds nothing.
        if not (piece[0] or piece.any()):
            continue
        room = word if packed is None else spare
        np.copyto(room, piece)
        if bit:
            room <<= np.uint64(bit)
        if packed is None:
            packed = word
        else:
            packed |= spare
    return packed


def _has_rank(chunk: PointChunk, name: str) -> bool:
    return name == "scan_angle" and "scan_angle_rank" in chunk.names


def _read_field(chunk: PointChunk, name: str, kind: str) -> NDArray[np.generic]:
    if name not in chunk.names:
        return _convert_rank(chunk["scan_angle_rank"])
    return chunk[name].astype(kind, copy=False)


def _convert_rank(rank: NDArray[np.generic]) -> NDArray[np.int16]:
    """Return whole degrees as the nearest number of steps of 0.006 degrees, (n,).

    That is what writing formats 0 to 5 as formats 6 to 10 makes of them. A third or two thirds of
    a step are left over, never a half.
    """
    return ((rank.astype(np.int32) * 1000 + 3) // 6).astype(np.int16)


def _make_extra_words(chunk: PointChunk) -> Iterator[tuple[str, list[Part]]]:
    """Yield a word for each element of each extra dimension, by name, type and place."""
    for name in sorted(chunk.names):
        if not name.startswith(EXTRA_PREFIX):
            continue
        values = chunk[name]
        kind = values.dtype.str.lstrip("<>|=")
        columns = values[:, np.newaxis] if values.ndim == 1 else values
        for place, column in enumerate(columns.T):
            yield f"{name}/{kind}/{place}", [Part(_read_bits(column), 0)]


def _read_bits(values: NDArray[np.generic]) -> NDArray[np.unsignedinteger]:
    """Return the stored bits as unsigned numbers of the same width, (n,)."""
    width = values.dtype.itemsize
    plain = np.ascontiguousarray(values, dtype=values.dtype.newbyteorder("<"))
    return plain.view(f"<u{width}")
