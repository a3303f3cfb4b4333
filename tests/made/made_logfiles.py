"""Log files of a made flight over the tiny survey: observations, sentences, a trajectory."""

from __future__ import annotations

import struct
from dataclasses import dataclass
from datetime import timedelta
from functools import reduce
from operator import xor

import numpy as np

from ledger.crs import describe, to_lonlat
from ledger.model.timescale import from_gps_s

TAKEOFF = 1_462_629_618  # GPS seconds of 2026-05-12 14:00:00 UTC
FIRST_PASS = TAKEOFF + 120
SECONDS = 1080
SYSTEM = "EPSG:6346"
GEOID_M = -27.0
ABOVE_M, GROUND_M = 45.0, 20.0


@dataclass(frozen=True)
class Logs:
    """What the logs of the flight say, sound unless changed.

    Args:
        base_hole: seconds without an observation of the base, in the middle of the flight.
        base_xyz: approximate position of the base.
        antenna: type of its antenna.
        float_s: seconds on the first line that are float.
        satellites: in use.
        second_station: id of the station in the second line.
        separation: geoid separation of the receiver, metres.
        lag: seconds that the trajectory is late.
        bend: metres by which the trajectory sways.
        jump: metres by which the trajectory jumps to the east.
        hole: seconds that the trajectory lacks.
        still: seconds at rest before it moves.
    """

    base_hole: int = 0
    base_xyz: tuple[float, float, float] = (881_432.8, -5_565_019.8, 2_978_991.4)
    antenna: str = "LEIAR25.R3      LEIT"
    float_s: int = 0
    satellites: int = 18
    second_station: str = "0001"
    separation: float = GEOID_M
    lag: float = 0.0
    bend: float = 0.0
    jump: float = 0.0
    hole: int = 0
    still: int = 60

    def write_base(self) -> str:
        """Return a RINEX 3.04 observation file with an epoch a second."""
        lines = [
            f"{'     3.04           OBSERVATION DATA    G':<60}RINEX VERSION / TYPE",
            f"{'QM1':<60}MARKER NAME",
            f"{'BR-2':<20}{self.antenna:<20}{'':<20}ANT # / TYPE",
            f"{''.join(f'{each:14.4f}' for each in self.base_xyz):<60}APPROX POSITION XYZ",
            f"{1.523:14.4f}{0:14.4f}{0:14.4f}{'':<18}ANTENNA: DELTA H/E/N",
            f"{1:10.3f}{'':<50}INTERVAL",
            f"{'  2026     5    12    13    48   18.0000000     GPS':<60}TIME OF FIRST OBS",
            f"{'':<60}END OF HEADER",
        ]
        for second in range(-720, SECONDS + 540):
            if 300 <= second < 300 + self.base_hole:
                continue
            moment = from_gps_s(TAKEOFF + second) + timedelta(seconds=18)
            lines.append(f"> {moment:%Y %m %d %H %M} {moment.second:010.7f}  0  1")
        return "\n".join(lines) + "\n"

    def write_sentences(self) -> str:
        """Return GGA sentences with the day in RMC, an epoch a second, in UTC."""
        crs = describe(SYSTEM)
        lines = []
        for second in range(SECONDS + 1):
            east, north, height = self._place(second)
            lon, lat = to_lonlat(crs, east, north)
            moment = from_gps_s(TAKEOFF + second)
            fix = 5 if 112 <= second < 112 + self.float_s else 4
            station = self.second_station if second > 250 else "0001"
            place = f"{_angle(lat, 2)},N,{_angle(-lon, 3)},W"
            told = (
                f"{fix},{self.satellites},0.7,{height:.3f},M,{self.separation:.3f},M,1.0,{station}"
            )
            lines += [
                f"GNGGA,{moment:%H%M%S}.00,{place},{told}",
                f"GNRMC,{moment:%H%M%S}.00,A,{place},0.0,,{moment:%d%m%y},,",
            ]
        return "".join(f"${body}*{reduce(xor, body.encode(), 0):02X}\r\n" for body in lines)

    def write_path(self) -> str:
        """Return a trajectory in GPS time, an epoch a second, heights orthometric."""
        lines = ["gps_time,easting,northing,orthometric_height"]
        for second in range(SECONDS + 1):
            if 150 <= second < 150 + self.hole:
                continue
            east, north, height = self._place(second)
            east += self.bend * np.sin(second / 40) + self.jump * (second > 200)
            lines.append(f"{TAKEOFF + second + self.lag:.1f},{east:.3f},{north:.3f},{height:.3f}")
        return "\n".join(lines) + "\n"

    def _place(self, second: int) -> tuple[float, float, float]:
        """Return where it is: over the middle of the site at each pass, far north in between."""
        # Seconds, metres east of the corner of the site, metres north of its middle, metres up.
        corners = np.array(
            [
                (0, -60, 0, 0),
                (self.still, -60, 0, 0),
                (max(self.still + 1, 80), -60, 0, ABOVE_M),
                (108, -60, 0, ABOVE_M),
                (140, 100, 0, ABOVE_M),
                (224, 100, 420, ABOVE_M),
                (308, 100, 0, ABOVE_M),
                (340, -60, 0, ABOVE_M),
                (400, -60, 0, 0),
            ]
        )
        east, north, up = (np.interp(second, corners[:, 0], corners[:, k]) for k in (1, 2, 3))
        return 500_000.0 + float(east), 3_100_020.0 + float(north), GROUND_M + float(up)


def write_geoid() -> bytes:
    """Return a GTX grid of one value, 27 to 29 degrees north, 80 to 82 west."""
    head = struct.pack(">4d2i", 27.0, -82.0, 1.0, 1.0, 3, 3)
    return head + struct.pack(">9f", *[GEOID_M] * 9)


def _angle(degrees: float, width: int) -> str:
    whole = int(degrees)
    return f"{whole:0{width}d}{(degrees - whole) * 60:010.7f}"
