"""What the card, the base and the aircraft left behind on the made-up site."""

from __future__ import annotations

import math
import struct
import zlib
from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta
from functools import reduce
from operator import xor
from pathlib import Path

import numpy as np

from ledger.crs import describe, to_lonlat
from ledger.dataclass import dataclass
from ledger.demo import site

BASE_HEIGHT_M = 1.523
_BEFORE_S, _AFTER_S = 12 * 60, 9 * 60
_STILL_S, _CLIMB_S = 60, 15
# Where the cross line begins, flown to the south.
_CROSS_NORTH = site.SOUTH + 344.0
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
        _label("   832423.4000 -4921637.9000  3957506.8000", "APPROX POSITION XYZ"),
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
    """Write the trajectory of the aircraft, one row a second, in GPS time; heights ellipsoidal."""
    lines = ["gps_time,easting,northing,height,roll,pitch,heading,fix"]
    for each in _fly():
        time = site.gps_seconds(site.TAKEOFF) + each.second
        lines.append(
            f"{time:.1f},{each.east:.3f},{each.north:.3f},{each.height:.3f},0.0,0.0,"
            f"{each.heading:.0f},{each.fix}"
        )
    _write_text(path, lines)


def write_nmea(path: Path) -> None:
    """Write the position sentences of the aircraft's receiver, in UTC.

    Its heights stand above its own coarse geoid model.
    """
    crs = describe("EPSG:6346")
    lines = []
    for each in _fly():
        moment = site.TAKEOFF + timedelta(seconds=each.second)
        lon, lat = to_lonlat(crs, each.east, each.north)
        body = (
            f"GNGGA,{moment:%H%M%S}.00,{_format_angle(lat, 2)},N,{_format_angle(-lon, 3)},W,"
            f"{each.fix},18,0.7,{each.height - _RECEIVER_SEPARATION_M:.3f},M,"
            f"{_RECEIVER_SEPARATION_M:.1f},M,1.0,0001"
        )
        lines.append(f"${body}*{reduce(xor, body.encode('ascii'), 0):02X}")
    _write_text(path, lines)


def _format_angle(degrees: float, width: int) -> str:
    whole = int(degrees)
    return f"{whole:0{width}d}{(degrees - whole) * 60:010.7f}"


@dataclass(frozen=True)
class _Epoch:
    """Where the aircraft was at a second after the first line began; height ellipsoidal."""

    second: int
    east: float
    north: float
    height: float
    heading: float
    fix: int = 4


def _fly() -> Iterator[_Epoch]:
    """Yield the whole flight: at rest, up, the lines with their turns, a cross line, and down."""
    pad = (site.WEST - 20.0, site.SOUTH + 37.5)
    for second in range(-_STILL_S - _CLIMB_S, 0):
        up = max(0.0, 1 + second / _CLIMB_S)
        yield _place(second, pad, 90.0, up * site.ABOVE_GROUND_M)
    for line in range(1, site.LINES + 1):
        yield from _fly_line(line)
    begun = site.LINES * (site.LINE_SECONDS + site.TURN_SECONDS)
    north = _CROSS_NORTH
    for second in range(site.LINE_SECONDS + 1):
        north = _CROSS_NORTH - second * site.SPEED_M_PER_S * 0.7
        yield _place(begun + second, (site.CENTRE[0], north), 180.0)
    last = begun + site.LINE_SECONDS
    for second in range(1, _CLIMB_S + 1):
        down = site.ABOVE_GROUND_M * (1 - second / _CLIMB_S)
        yield _place(last + second, (site.CENTRE[0], north), 0.0, down)


def _fly_line(line: int) -> Iterator[_Epoch]:
    """Yield one line and the half circle to the next one."""
    begun = (line - 1) * (site.LINE_SECONDS + site.TURN_SECONDS)
    north = site.SOUTH + 37.5 + (line - 1) * site.LINE_SPACING_M
    is_eastward = line % 2 == 1
    heading = 90.0 if is_eastward else 270.0
    east = site.WEST - 20.0
    for second in range(site.LINE_SECONDS + 1):
        along = second if is_eastward else site.LINE_SECONDS - second
        is_float = line == _FLOAT_LINE and 40 <= second < 40 + _FLOAT_SECONDS
        east = site.WEST - 20 + along * site.SPEED_M_PER_S
        place = _place(begun + second, (east, north), heading)
        yield replace(place, fix=5) if is_float else place
    for second in range(1, site.TURN_SECONDS):
        share = second / site.TURN_SECONDS
        turned, turn = _turn((east, north), share, 1 if is_eastward else -1)
        if line == site.LINES:
            turned = (
                east + share * (site.CENTRE[0] - east),
                north + share * (_CROSS_NORTH - north),
            )
        yield _place(begun + site.LINE_SECONDS + second, turned, heading - turn)


def _turn(end: tuple[float, float], share: float, side: int) -> tuple[tuple[float, float], float]:
    """Return a place on the half circle behind the end of a line, and the degrees turned."""
    radius, angle = site.LINE_SPACING_M / 2, math.pi * share
    place = (end[0] + side * radius * math.sin(angle), end[1] + radius * (1 - math.cos(angle)))
    return place, side * math.degrees(angle)


def _place(
    second: int, place: tuple[float, float], heading: float, up: float = site.ABOVE_GROUND_M
) -> _Epoch:
    east, north = np.array([place[0]]), np.array([place[1]])
    ground = site.compute_ground(east, north)[0] + site.compute_geoid_a(east, north)[0]
    return _Epoch(second, *place, float(ground) + up, heading % 360)


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
