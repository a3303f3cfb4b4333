"""A photo as a phone takes it: a JPEG that says in its Exif block where it was taken.

Layout of the block: Exif 2.32 (CIPA DC-008), sections 4.5 and 4.6.6: a TIFF header, one directory
that points to that of the GPS tags, latitude and longitude as three rationals each.
"""

from __future__ import annotations

import struct

# 51° 28' 40.12", 0° 0' 5.31": an invented spot.
LATITUDE = ((51, 1), (28, 1), (4012, 100))
LONGITUDE = ((0, 1), (0, 1), (531, 100))
# Every way in which that spot may be written as text, as far as its first digits.
WRITTEN = ("51.4778", "51.47", "40.12", "0.00147", "5.31")
RATIONALS = b"".join(struct.pack("<II", *part) for part in LATITUDE)

_ASCII, _RATIONAL, _LONG = 2, 5, 4
_GPS_DIRECTORY = 0x8825
_REFERENCES = {1: b"N\0\0\0", 3: b"W\0\0\0"}


def make_photo() -> bytes:
    """Return the bytes of a photo with its location."""
    block = b"Exif\0\0" + _make_tiff()
    application = b"\xff\xe1" + struct.pack(">H", len(block) + 2) + block
    return b"\xff\xd8" + application + b"\xff\xda\x00\x02" + bytes(range(256)) * 40 + b"\xff\xd9"


def _make_tiff() -> bytes:
    header = b"II*\0" + struct.pack("<I", 8)
    first = struct.pack("<H", 1) + _entry(_GPS_DIRECTORY, _LONG, 1, struct.pack("<I", 26))
    first += struct.pack("<I", 0)
    start = 26 + 2 + 4 * 12 + 4
    rows = [
        _entry(1, _ASCII, 2, _REFERENCES[1]),
        _entry(2, _RATIONAL, 3, struct.pack("<I", start)),
        _entry(3, _ASCII, 2, _REFERENCES[3]),
        _entry(4, _RATIONAL, 3, struct.pack("<I", start + 24)),
    ]
    gps = struct.pack("<H", len(rows)) + b"".join(rows) + struct.pack("<I", 0)
    longitude = b"".join(struct.pack("<II", *part) for part in LONGITUDE)
    return header + first + gps + RATIONALS + longitude


def _entry(tag: int, kind: int, count: int, value: bytes) -> bytes:
    return struct.pack("<HHI", tag, kind, count) + value
