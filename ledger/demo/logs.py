"""What the card, the base and the aircraft left behind on the made-up site."""

from __future__ import annotations

import struct
import zlib
from collections.abc import Iterator
from datetime import timedelta
from functools import reduce
from operator import xor
from pathlib import Path

import numpy as np

from ledger.crs import describe, to_lonlat
from ledger.demo import site

BASE_HEIGHT_M = 1.523
_BEFORE_S, _AFTER_S = 12 * 60, 9 * 60
_FLOAT_LINE, _FLOAT_SECONDS = 6, 14
_RECEIVER_SEPARATION_M = -31.2
_CAPTURE_BYTES = 200_000


def write_capture(folder: Path) -> None:
    """Write three parts of a capture: bytes with a fixed seed."""
    folder.mkdir(parents=True, exist_ok=True)
    random = np.random.default_rng(412)
    for part in (1, 2, 3):
        content = random.integers(0, 256, _CAPTURE_BYTES, dtype=np.uint8).tobytes()
        (folder / f"cap_0412_p{part}.bin").write_bytes(content)


def write_base_log(path: Path) -> None:
    """Write the observation file of the base: RINEX 3.04, one epoch a second."""
    first = site.TAKEOFF + timedelta(seconds=site.GPS_MINUS_UTC_S - _BEFORE_S)
    count = _BEFORE_S + site.FLIGHT_SECONDS + _AFTER_S
    lines = [
        _label("     3.04           OBSERVATION DATA    G", "RINEX VERSION / TYPE"),
        _label(
            "demo-proc           demo                20260512 140000 UTC", "PGM / RUN BY / DATE"
        ),
        _label("QM1", "MARKER NAME"),
        _label("BR-2                DEMO RECEIVER       1.0", "REC # / TYPE / VERS"),
        _label("BR-2                DEMOANT1        NONE", "ANT # / TYPE"),
        _label("   833000.0000 -4920000.0000  3957000.0000", "APPROX POSITION XYZ"),
        _label(f"{BASE_HEIGHT_M:14.4f}{0:14.4f}{0:14.4f}", "ANTENNA: DELTA H/E/N"),
        _label("G    1 C1C", "SYS / # / OBS TYPES"),
        _label(f"{1:10.3f}", "INTERVAL"),
        _label(
            f"{first:  %Y    %m    %d    %H    %M}{first.second:13.7f}     GPS", "TIME OF FIRST OBS"
        ),
        _label("", "END OF HEADER"),
    ]
    for second in range(count):
        moment = first + timedelta(seconds=second)
        lines.append(f"> {moment:%Y %m %d %H %M} {moment.second:010.7f}  0  1")
        lines.append(f"G12  22000000.{second % 1000:03d}")
    _write_text(path, lines)


def _label(content: str, label: str) -> str:
    return f"{content:<60}{label:<20}".rstrip()


def write_track(path: Path) -> None:
    """Write the trajectory of the aircraft, one row a second, in GPS time."""
    lines = ["gps_time,easting,northing,height,roll,pitch,heading,fix"]
    for second, east, north, heading, fix in _fly():
        time = site.gps_seconds(site.TAKEOFF) + second
        ground = site.compute_ground(np.array([east]), np.array([north]))[0]
        separation = site.compute_geoid_a(np.array([east]), np.array([north]))[0]
        height = ground + separation + site.ABOVE_GROUND_M
        lines.append(f"{time:.1f},{east:.3f},{north:.3f},{height:.3f},0.0,0.0,{heading},{fix}")
    _write_text(path, lines)


def write_nmea(path: Path) -> None:
    """Write the position sentences of the aircraft's receiver, in UTC."""
    crs = describe("EPSG:6346")
    lines = []
    for second, east, north, _, fix in _fly():
        moment = site.TAKEOFF + timedelta(seconds=second)
        lon, lat = to_lonlat(crs, east, north)
        ground = site.compute_ground(np.array([east]), np.array([north]))[0]
        body = (
            f"GNGGA,{moment:%H%M%S}.00,{_format_angle(lat, 2)},N,{_format_angle(-lon, 3)},W,{fix},"
            f"18,0.7,{ground + site.ABOVE_GROUND_M:.3f},M,{_RECEIVER_SEPARATION_M:.1f},M,1.0,0001"
        )
        lines.append(f"${body}*{reduce(xor, body.encode('ascii'), 0):02X}")
    _write_text(path, lines)


def _format_angle(degrees: float, width: int) -> str:
    whole = int(degrees)
    return f"{whole:0{width}d}{(degrees - whole) * 60:010.7f}"


def _fly() -> Iterator[tuple[int, float, float, int, int]]:
    """Yield second, easting, northing, heading and fix quality along the lines and a cross line."""
    for line in range(1, site.LINES + 1):
        started = (line - 1) * (site.LINE_SECONDS + site.TURN_SECONDS)
        north = site.SOUTH + 37.5 + (line - 1) * site.LINE_SPACING_M
        for second in range(site.LINE_SECONDS + 1):
            along = second if line % 2 else site.LINE_SECONDS - second
            is_float = line == _FLOAT_LINE and 40 <= second < 40 + _FLOAT_SECONDS
            east = site.WEST - 20 + along * site.SPEED_M_PER_S
            yield started + second, east, north, 90 if line % 2 else 270, 5 if is_float else 4
    started = site.LINES * (site.LINE_SECONDS + site.TURN_SECONDS)
    for second in range(site.LINE_SECONDS + 1):
        north = site.SOUTH - 20 + second * site.SPEED_M_PER_S * 0.7
        yield started + second, site.CENTRE[0], north, 0, 4


def write_photos(folder: Path) -> None:
    """Write three generated pictures that stand for photos of mount and base."""
    folder.mkdir(parents=True, exist_ok=True)
    for number, name in enumerate(("mount-front", "mount-side", "base-with-tape")):
        (folder / f"{name}.png").write_bytes(_draw_picture(number))


def _draw_picture(number: int) -> bytes:
    size = 64
    shade = [[(x * (number + 2) + y * 3) % 256 for x in range(size)] for y in range(size)]
    pixels = b"".join(b"\x00" + bytes(row) for row in shade)
    header = struct.pack(">2I5B", size, size, 8, 0, 0, 0, 0)
    parts = ((b"IHDR", header), (b"IDAT", zlib.compress(pixels)), (b"IEND", b""))
    chunks = b"".join(
        struct.pack(">I", len(content))
        + kind
        + content
        + struct.pack(">I", zlib.crc32(kind + content))
        for kind, content in parts
    )
    return b"\x89PNG\r\n\x1a\n" + chunks


def _write_text(path: Path, lines: list[str]) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text("\n".join(lines) + "\n", encoding="ascii", newline="\n")
