"""Points taken out of the bytes of an uncompressed LAS file, without any reader of points.

Nothing of the project is imported here. Source: ASPRS LAS 1.4 R15, table 3 (public header block)
and tables 7 to 19 (point data record formats 0 to 10).
"""

from __future__ import annotations

import struct
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

from plain import EXTRA, round_to_lattice

TIME = ("gps_time", "Q")
COLOUR = [("red", "H"), ("green", "H"), ("blue", "H")]
NIR = [("nir", "H")]
WAVEFORM = [
    ("wavepacket_index", "B"),
    ("wavepacket_offset", "Q"),
    ("wavepacket_size", "I"),
    ("return_point_wave_location", "I"),
    ("x_t", "I"),
    ("y_t", "I"),
    ("z_t", "I"),
]
OLD = [
    *[("X", "i"), ("Y", "i"), ("Z", "i"), ("intensity", "H"), ("returns", "B")],
    *[("class", "B"), ("scan_angle_rank", "b"), ("user_data", "B"), ("point_source_id", "H")],
]
NEW = [
    *[("X", "i"), ("Y", "i"), ("Z", "i"), ("intensity", "H"), ("returns", "B"), ("flags", "B")],
    *[("classification", "B"), ("user_data", "B"), ("scan_angle", "h"), ("point_source_id", "H")],
    TIME,
]
# Floating fields are taken as unsigned numbers: their bits are what counts.
FORMATS: dict[int, list[tuple[str, str]]] = {
    0: OLD,
    1: [*OLD, TIME],
    2: [*OLD, *COLOUR],
    3: [*OLD, TIME, *COLOUR],
    4: [*OLD, TIME, *WAVEFORM],
    5: [*OLD, TIME, *COLOUR, *WAVEFORM],
    6: NEW,
    7: [*NEW, *COLOUR],
    8: [*NEW, *COLOUR, *NIR],
    9: [*NEW, *WAVEFORM],
    10: [*NEW, *COLOUR, *NIR, *WAVEFORM],
}
# Bit-fields by the byte that holds them: name, lowest bit, width.
OLD_BITS = {
    "returns": [
        ("return_number", 0, 3),
        ("number_of_returns", 3, 3),
        ("scan_direction_flag", 6, 1),
        ("edge_of_flight_line", 7, 1),
    ],
    "class": [
        ("classification", 0, 5),
        ("synthetic", 5, 1),
        ("key_point", 6, 1),
        ("withheld", 7, 1),
    ],
}
NEW_BITS = {
    "returns": [("return_number", 0, 4), ("number_of_returns", 4, 4)],
    "flags": [
        ("synthetic", 0, 1),
        ("key_point", 1, 1),
        ("withheld", 2, 1),
        ("overlap", 3, 1),
        ("scanner_channel", 4, 2),
        ("scan_direction_flag", 6, 1),
        ("edge_of_flight_line", 7, 1),
    ],
}


def read_place(content: bytes) -> tuple[int, int, int, int]:
    """Return where points begin, the point format, the length of a record and the count."""
    offset, point_format = struct.unpack_from("<I4xB", content, 96)
    length, legacy_count = struct.unpack_from("<HI", content, 105)
    count = struct.unpack_from("<Q", content, 247)[0] if content[25] >= 4 else legacy_count
    return offset, point_format, length, count


def read_records(
    path: Path, extra: Sequence[tuple[str, str]] = (), steps: tuple[int, int, int] = (10_000,) * 3
) -> Iterator[dict[str, int]]:
    """Yield the points of a file by the names of the page, each field by its bits.

    Args:
        path: the file.
        extra: extra words by name, in order of their bytes, with a code of `struct` for unsigned
            numbers.
        steps: lattice steps in a unit of X, Y and Z.
    """
    content = path.read_bytes()
    offset, point_format, length, count = read_place(content)
    scales = struct.unpack_from("<3d", content, 131)
    offsets = struct.unpack_from("<3d", content, 155)
    fields = [*FORMATS[point_format], *((f"{EXTRA}{name}", code) for name, code in extra)]
    layout = struct.Struct("<" + "".join(code for _, code in fields))
    assert layout.size == length
    bits = OLD_BITS if point_format < 6 else NEW_BITS
    for index in range(count):
        numbers = layout.unpack_from(content, offset + index * length)
        record: dict[str, Any] = dict(zip((name for name, _ in fields), numbers, strict=True))
        for axis, name in enumerate("XYZ"):
            record[name.lower()] = round_to_lattice(
                record.pop(name), scales[axis], offsets[axis], steps[axis]
            )
        for holder, parts in bits.items():
            byte = record.pop(holder)
            record |= {name: byte >> low & (1 << width) - 1 for name, low, width in parts}
        yield record
