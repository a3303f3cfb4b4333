"""How a made site is flown: lines there and back, and when each point comes under the scanner.

What turns with the aircraft is planted pass by pass, by turning the vector from the scanner to the
ground in body axes (forward, right, down) and back, so that nothing that predicts is used.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from cause_sites import Floats, Site

from ledger.model.fieldlogs import LogFile, Series, Track
from ledger.model.known import KnownBy, KnownValue
from lidar_checks.ground.passes import Pass

BEGIN_S = 1_462_629_600.0  # of the flight, GPS seconds: 12 May 2026
_ADJUSTED_S = 1e9
_BEYOND_M = 60.0
_TURN_S = 20.0


@dataclass(frozen=True, eq=False)
class Passes:
    """All passes of all points, (m,); directions are east plus i north, lengths metres.

    Args:
        point: index of the point.
        weight: its share of the points round it.
        count: points that it leaves there.
        line: number of the line.
        time: GPS seconds.
        nose: where the aircraft points.
        velocity: metres a second.
        ahead: of the scanner the point lies so far.
        right: so far to the right.
        down: so far below.
    """

    point: np.ndarray
    weight: Floats
    count: np.ndarray
    line: np.ndarray
    time: Floats
    nose: np.ndarray
    velocity: np.ndarray
    ahead: Floats
    right: Floats
    down: Floats

    def move(self, ahead: Floats, right: Floats, down: Floats) -> tuple[np.ndarray, Floats]:
        """Return how far points are off in plan and up, by what their vector becomes."""
        off = (ahead - self.ahead) + 1j * -(right - self.right)
        return off * self.nose, self.down - down

    def average(self, values: Floats, count: int) -> Floats:
        """Return the mean of each point over its passes."""
        return np.asarray(np.bincount(self.point, self.weight * values, count), dtype=np.float64)


Turn = Callable[[Passes], tuple[np.ndarray, Floats]]


def roll(angle: float) -> Turn:
    """Return a roll that lifts what lies to the right, radians."""
    c, s = np.cos(angle), np.sin(angle)
    return lambda p: p.move(p.ahead, c * p.right + s * p.down, c * p.down - s * p.right)


def pitch(angle: float) -> Turn:
    """Return a pitch that lifts what lies ahead."""
    c, s = np.cos(angle), np.sin(angle)
    return lambda p: p.move(c * p.ahead + s * p.down, p.right, c * p.down - s * p.ahead)


def yaw(angle: float) -> Turn:
    """Return a heading that is off clockwise."""
    c, s = np.cos(angle), np.sin(angle)
    return lambda p: p.move(c * p.ahead - s * p.right, c * p.right + s * p.ahead, p.down)


def arm(ahead: float, right: float, down: float) -> Turn:
    """Return a lever arm that is off."""
    return lambda p: p.move(p.ahead + ahead, p.right + right, p.down + down)


def lag(seconds: float) -> Turn:
    """Return a clock that takes each point from where the aircraft is later."""
    return lambda p: (p.velocity * seconds, np.zeros(len(p.time)))


@dataclass(frozen=True, eq=False)
class MadeFlight:
    """One flight.

    Args:
        passes: of the points.
        track: its trajectory.
    """

    passes: Passes
    track: Track

    def list_passes(self, count: int) -> tuple[tuple[Pass, ...], ...]:
        """Return the passes as the points of the cloud show them."""
        found: list[list[Pass]] = [[] for _ in range(count)]
        p = self.passes
        for i, line, time, number in zip(p.point, p.line, p.time, p.count, strict=True):
            found[i].append(Pass("tile.laz", int(line), float(time) - _ADJUSTED_S, int(number)))
        return tuple(map(tuple, found))


def make_flight(site: Site, seed: int) -> MadeFlight:
    """Return a flight over a site: parallel lines, every second one back."""
    random = np.random.default_rng((seed, 991))
    way = np.exp(1j * random.uniform(0, 2 * np.pi))
    middle = complex(site.east.mean(), site.north.mean())
    place = (site.east + 1j * site.north - middle) * np.conj(way)
    along, across = place.real, -place.imag  # to the right of the way is positive
    above = random.uniform(40, 100)
    spacing = above * random.uniform(0.4, 0.9)
    half = spacing * random.uniform(0.6, 1.0)
    count = int(np.ceil((np.ptp(across) + 2 * half) / spacing)) + 1
    offsets = across.min() - half / 2 + spacing * np.arange(count)
    speeds = np.full(count, random.uniform(4, 9))
    levels = np.full(count, float(site.height.mean()) + above)
    if random.random() < 0.3:  # part of it lower and slower
        part = random.random(count) < 0.4
        speeds[part] *= 0.6
        levels[part] -= above * 0.35
    keeps_nose = random.random() < 0.2
    reach = float(np.abs(along).max()) + _BEYOND_M
    begins = BEGIN_S + np.cumsum(np.concatenate([[0.0], 2 * reach / speeds[:-1] + _TURN_S]))
    signs = np.where(np.arange(count) % 2 == 0, 1.0, -1.0)
    point, line = np.nonzero(np.abs(across[:, None] - offsets[None, :]) <= half)
    nose = np.full(len(line), way) if keeps_nose else way * signs[line]
    beside = (across[point] - offsets[line]) * way * -1j
    numbers = random.integers(20, 80, len(line))
    totals = np.bincount(point, numbers, len(along))
    passes = Passes(
        point=point,
        weight=numbers / totals[point],
        count=numbers,
        line=line + 1,
        time=begins[line] + (along[point] * signs[line] + reach) / speeds[line],
        nose=nose,
        velocity=way * signs[line] * speeds[line],
        ahead=(beside * np.conj(nose)).real,
        right=(beside * np.conj(nose * -1j)).real,
        down=levels[line] - site.height[point],
    )
    lines = [
        _fly(begin, reach, speed, middle + way * (-1j * offset - sign * reach), way * sign, level)
        for begin, speed, offset, sign, level in zip(
            begins, speeds, offsets, signs, levels, strict=True
        )
    ]
    return MadeFlight(passes, _make_track(lines, way if keeps_nose else None))


def _fly(
    begin: float, reach: float, speed: float, start: complex, way: complex, level: float
) -> np.ndarray:
    """Return time, east, north and height of one line, (n, 4)."""
    seconds = np.arange(0.0, 2 * reach / speed + 0.5, 0.5)
    place = start + way * speed * seconds
    height = np.full(len(seconds), level)
    return np.column_stack([begin + seconds, place.real, place.imag, height])


def _make_track(lines: list[np.ndarray], nose: complex | None) -> Track:
    time, east, north, height = np.concatenate(lines).T
    blank = np.full(len(time), np.nan)
    heading = blank if nose is None else np.full(len(time), np.degrees(np.pi / 2 - np.angle(nose)))
    whole = np.full(len(time), -1)
    series = Series(
        time_s=time,
        east_m=east,
        north_m=north,
        height_m=height,
        quality=whole.astype(np.int8),
        satellites=whole.astype(np.int16),
        hdop=blank,
        pdop=blank,
        age_s=blank,
        sigma_m=blank,
        roll_deg=blank,
        pitch_deg=blank,
        heading_deg=heading,
    )
    return Track(
        LogFile("raw/track.csv", "e" * 64, "trajectory", "F1"),
        "table",
        scale=KnownValue("GPS", known_by=KnownBy.READ),
        span_s=(float(time[0]), float(time[-1])),
        epochs=len(time),
        place="job",
        height_type=KnownValue("orthometric", known_by=KnownBy.READ),
        step_s=0.5,
        series=series,
    )
