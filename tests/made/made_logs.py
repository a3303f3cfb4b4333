"""Made flights as their logs tell them: lines there and back, turns, a cross line."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Any

import numpy as np
from made_raw import make_flight, make_job

from ledger.contract.evidence import Evidence
from ledger.model.fieldlogs import BaseLog, FieldLogs, Gap, LogFile, Series, Track
from ledger.model.known import KnownBy, KnownValue
from ledger.model.timescale import from_gps_s

TAKEOFF = 1_462_629_618.0  # 2026-05-12 14:00:00 UTC
WEST, SOUTH = 552_000.0, 4_272_000.0
READ = KnownBy.READ


@dataclass(frozen=True)
class Flown:
    """A flight over a site.

    Args:
        lines: lines there and back.
        spacing: between them, metres.
        length: of a line, metres.
        speed: metres a second.
        step: seconds between epochs.
        still: seconds that it stands before it moves.
        cross: metres of a cross line; 0 for none.
        noise: standard deviation of a position, metres.
        height: as written, metres.
        turn: degrees by which the whole is turned.
        seed: of the noise.
    """

    lines: int = 6
    spacing: float = 35.0
    length: float = 300.0
    speed: float = 5.0
    step: float = 1.0
    still: float = 40.0
    cross: float = 200.0
    noise: float = 0.01
    height: float = 227.0
    turn: float = 0.0
    seed: int = 1

    def fly(self) -> dict[str, Any]:
        """Return time after take-off, easting and northing of every epoch."""
        corners = self._list_corners()
        times = np.cumsum([0.0, *(seconds for _, seconds in corners[1:])])
        places = np.array([place for place, _ in corners])
        clock = np.arange(0.0, times[-1] + 1e-9, self.step)
        random = np.random.default_rng(self.seed)
        place = np.interp(clock, times, places.real) + 1j * np.interp(clock, times, places.imag)
        place = place * np.exp(1j * np.radians(self.turn))
        shake = random.normal(0, self.noise, (2, len(clock)))
        return {
            "time": clock,
            "east": WEST + place.real + shake[0],
            "north": SOUTH + place.imag + shake[1],
        }

    @property
    def seconds(self) -> float:
        """Return how long it takes."""
        return float(self.fly()["time"][-1])

    def _list_corners(self) -> list[tuple[complex, float]]:
        corners: list[tuple[complex, float]] = [(0j, 0.0), (0j, max(self.still, 1e-3))]
        radius = self.spacing / 2
        for number in range(self.lines):
            ahead = number % 2 == 0
            north = number * self.spacing
            end = self.length if ahead else 0.0
            corners.append((complex(end, north), self.length / self.speed))
            for k in range(1, 9):
                angle = np.pi * k / 8
                side = radius * np.sin(angle) * (1 if ahead else -1)
                place = complex(end + side, north + radius * (1 - np.cos(angle)))
                corners.append((place, np.pi * radius / 8 / self.speed))
        if self.cross:
            start = complex(self.length / 2, corners[-1][0].imag)
            corners.append((start, abs(start - corners[-1][0]) / self.speed))
            corners.append((start - 1j * self.cross, self.cross / self.speed))
        return corners


def make_track(flown: Flown | None = None, **parts: Any) -> Track:
    """Return a track of a flight.

    Args:
        flown: the flight.
        **parts: fields of `Track`; of its series `quality`, `age_s`, `hdop`, `pdop`, `satellites`
            and `sigma_m` as arrays or functions of the seconds after take-off; `late` is added to
            all times, and `shift` to all positions (east, north); `bend` is by how many metres a
            path sways to the east and back; `keep` says of each second whether it is there.
    """
    made = (flown or Flown()).fly()
    seconds, late = made["time"], parts.pop("late", 0.0)
    shift = parts.pop("shift", (0.0, 0.0))
    bend = parts.pop("bend", 0.0) * np.sin(2 * np.pi * seconds / seconds[-1])
    name = parts.pop("name", "track.csv")
    flight = parts.pop("flight", "F1")
    role = parts.pop("role", "trajectory")
    run = parts.pop("run", "")
    given = {
        field: parts.pop(field, fallback)
        for field, fallback in (
            ("quality", 4.0),
            ("satellites", 18.0),
            ("hdop", 0.7),
            ("pdop", 1.3),
            ("age_s", 1.0),
            ("sigma_m", 0.015),
            ("height_m", (flown or Flown()).height),
        )
    }
    keep = parts.pop("keep", None)
    chosen = np.ones(len(seconds), bool) if keep is None else np.asarray(keep(seconds), bool)
    arrays = {field: _spread(value, seconds)[chosen] for field, value in given.items()}
    blank = np.full(int(chosen.sum()), np.nan)
    series = Series(
        time_s=TAKEOFF + seconds[chosen] + late,
        east_m=(made["east"] + bend)[chosen] + shift[0],
        north_m=made["north"][chosen] + shift[1],
        height_m=arrays["height_m"],
        quality=arrays["quality"].astype(np.int8),
        satellites=arrays["satellites"].astype(np.int16),
        hdop=arrays["hdop"],
        pdop=arrays["pdop"],
        age_s=arrays["age_s"],
        sigma_m=arrays["sigma_m"],
        roll_deg=blank,
        pitch_deg=blank,
        heading_deg=blank,
    )
    step = round(float(np.median(np.diff(series.time_s))), 3)
    gaps = [
        Gap(float(series.time_s[at]), float(np.diff(series.time_s)[at]))
        for at in np.flatnonzero(np.diff(series.time_s) > 1.5 * step)
    ]
    known: dict[str, Any] = {
        "scale": KnownValue("GPS", known_by=READ),
        "span_s": (float(series.time_s[0]), float(series.time_s[-1])),
        "epochs": len(series.time_s),
        "place": "job",
        "height_type": KnownValue("ellipsoidal", known_by=READ),
        "step_s": step,
        "gaps": tuple(gaps),
        "longest_gap_s": max((gap.seconds for gap in gaps), default=0.0),
        "quality_known": KnownValue("GGA", known_by=READ),
        "series": series,
        "kind": "table",
    }
    return Track(file=LogFile(name, name * 8, role, flight, run), **known | parts)


def _spread(value: Any, seconds: Any) -> Any:
    found = value(seconds) if callable(value) else value
    return np.broadcast_to(np.asarray(found, dtype=np.float64), seconds.shape).copy()


def make_log(flown: Flown | None = None, **parts: Any) -> Track:
    """Return a position log of a receiver, which has its own noise."""
    base = flown or Flown()
    given: dict[str, Any] = {
        "name": "nmea.txt",
        "role": "flight-log",
        "kind": "sentences",
        "scale": KnownValue("UTC", known_by=READ, where="NMEA 0183"),
        **parts,
    }
    return make_track(replace(base, seed=base.seed + 100), **given)


def make_base(**parts: Any) -> BaseLog:
    """Return the log of a base at the site, from 12 minutes before a flight to 9 after it."""
    seconds = Flown().seconds
    given: dict[str, Any] = {
        "marker": "QM1",
        "antenna": "LEIAR25.R3      LEIT",
        # 552 240 E, 4 272 160 N of UTM zone 17N (GRS 80) at 180 m: computed with PROJ.
        "position_m": (Decimal("832424.2"), Decimal("-4921642.1"), Decimal("3957510.2")),
        "antenna_delta_m": (Decimal("1.523"), Decimal(0), Decimal(0)),
        "scale": KnownValue("GPS", known_by=READ),
        "span_s": (TAKEOFF - 720, TAKEOFF + seconds + 540),
        "epochs": round(seconds) + 1261,
        "interval_s": Decimal("1.000"),
        "step_s": Decimal("1.000"),
        "missing": 0,
        "longest_gap_s": 0.0,
        "bad_lines": 0,
    }
    flight = parts.pop("flight", "F1")
    name = parts.pop("name", "base.26o")
    return BaseLog(file=LogFile(name, name * 8, "base-log", flight), **given | parts)


def judge_logs(*logs: Track | BaseLog, flights: Any = None, **parts: Any) -> Evidence:
    """Return evidence of a flight, or several, with these logs; `card` holds values of the card."""
    seconds = Flown().seconds
    values = {
        "takeoff": f"{from_gps_s(TAKEOFF):%Y-%m-%dT%H:%M:%SZ}",
        "landing": f"{from_gps_s(TAKEOFF + seconds):%Y-%m-%dT%H:%M:%SZ}",
        "base_kind": "own base",
        **parts.pop("card", {}),
    }
    cards = (make_flight(**values),) if flights is None else tuple(flights)
    found = FieldLogs(
        tuple(log for log in logs if isinstance(log, BaseLog)),
        tuple(log for log in logs if isinstance(log, Track)),
    )
    return make_job(flights=cards, logs=found, **parts)


def float_from(begin: float, seconds: float, code: float = 5.0) -> Callable[[Any], Any]:
    """Return qualities that are fixed but for some seconds."""
    return lambda time: np.where((time >= begin) & (time < begin + seconds), code, 4.0)
