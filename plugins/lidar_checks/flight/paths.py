"""Paths in the plane, from the logs: where, how fast, and along which lines.

Metres and GPS seconds. A straight line flown at an even height is what maps; take-off, landing and
turns are what is left over.
"""

from __future__ import annotations

import itertools

import numpy as np
from numpy.typing import NDArray

from ledger.dataclass import dataclass
from ledger.model.fieldlogs import Track

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

# What a mapping line is: by trial on the flights of the tests, no source.
_LEAST_LINE_S, _LEAST_LINE_M = 10.0, 30.0
_LEAST_SPEED = 1.0
_MOST_TURN_DEG_PER_S = 5.0
_MOST_CLIMB = 2.0
_SAME_COURSE_DEG = 15.0
_LOOK_S = 1.0
_LEAST_EPOCHS = 10
# Between two epochs further apart nothing is known of the path.
BROKEN_S = 5.0


@dataclass(frozen=True, eq=False)
class Path:
    """The epochs of a track that have a place.

    Args:
        time_s: GPS seconds, rising, (n,).
        east_m: easting, (n,).
        north_m: northing, (n,).
        height_m: height as written, NaN where there is none, (n,).
        quality: fix quality as in GGA, -1 where not known, (n,).
    """

    time_s: Floats
    east_m: Floats
    north_m: Floats
    height_m: Floats
    quality: NDArray[np.int8]


@dataclass(frozen=True)
class Line:
    """A straight stretch of a path.

    Args:
        number: from 1, in order of time.
        begin_s: GPS seconds.
        end_s: GPS seconds.
        course_deg: direction of flight, clockwise from north.
        speed: metres a second, mean.
        middle: easting and northing half way.
    """

    number: int
    begin_s: float
    end_s: float
    course_deg: float
    speed: float
    middle: tuple[float, float]


def make_path(track: Track) -> Path | None:
    """Return the path of a track; None where it has too few positions for one."""
    series = track.series
    if series is None:
        return None
    known = np.isfinite(series.east_m) & np.isfinite(series.north_m)
    if np.count_nonzero(known) < _LEAST_EPOCHS:
        return None
    return Path(
        series.time_s[known],
        series.east_m[known],
        series.north_m[known],
        series.height_m[known],
        series.quality[known],
    )


def interpolate(path: Path, times: Floats) -> tuple[Floats, Floats]:
    """Return easting and northing at some times; NaN outside the path and where it is broken."""
    east = np.interp(times, path.time_s, path.east_m, left=np.nan, right=np.nan)
    north = np.interp(times, path.time_s, path.north_m, left=np.nan, right=np.nan)
    after = np.clip(np.searchsorted(path.time_s, times), 1, len(path.time_s) - 1)
    broken = path.time_s[after] - path.time_s[after - 1] > BROKEN_S
    return np.where(broken, np.nan, east), np.where(broken, np.nan, north)


def find_step(path: Path) -> float:
    """Return the seconds at which a path can be looked at: its own step, 0.2 s at the least."""
    return max(0.2, float(np.median(np.diff(path.time_s))))


def compute_velocity(path: Path, times: Floats, span_s: float = _LOOK_S) -> NDArray[np.complex128]:
    """Return velocities, east plus i north, m/s, over a span about each time; NaN where unknown."""
    first = interpolate(path, times - span_s / 2)
    second = interpolate(path, times + span_s / 2)
    east, north = second[0] - first[0], second[1] - first[1]
    return np.asarray((east + 1j * north) / span_s, dtype=np.complex128)


def find_lines(path: Path) -> tuple[Line, ...]:
    """Return the straight stretches that are long enough to map, in order of time."""
    step = find_step(path)
    times = np.arange(path.time_s[0], path.time_s[-1] + step / 2, step)
    look = max(2 * _LOOK_S, 2 * step)
    velocity = compute_velocity(path, times, look)
    heights = np.interp(times, path.time_s, np.nan_to_num(path.height_m))
    climb = np.abs(np.gradient(heights, step)) if len(times) > 1 else np.zeros(len(times))
    moving = np.isfinite(velocity) & (np.abs(velocity) >= _LEAST_SPEED) & (climb <= _MOST_CLIMB)
    turn = np.full(len(times), np.inf)
    turn[1:] = np.abs(np.degrees(np.angle(velocity[1:] * np.conj(velocity[:-1])))) / step
    straight = moving & (np.nan_to_num(turn, nan=np.inf) <= _MOST_TURN_DEG_PER_S)
    lines: list[Line] = []
    for begin, end in _list_runs(straight):
        for low, high in _split_bends(velocity, begin, end):
            line = _make_line(path, times, velocity, (low, high), len(lines) + 1)
            if line is not None:
                lines.append(line)
    return tuple(lines)


def _list_runs(mask: Bools) -> list[tuple[int, int]]:
    """Return begin and end (exclusive) of every run of true values."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], mask, [False]]).astype(np.int8)))
    return [(int(a), int(b)) for a, b in zip(edges[::2], edges[1::2], strict=True)]


def _split_bends(velocity: NDArray[np.complex128], begin: int, end: int) -> list[tuple[int, int]]:
    """Return a run cut where its course leaves that of its beginning: a wide curve is no line."""
    parts = []
    while begin < end:
        course = velocity[begin : begin + 5].mean()
        apart = np.abs(np.degrees(np.angle(velocity[begin:end] * np.conj(course))))
        off = np.flatnonzero(apart > _SAME_COURSE_DEG)
        stop = begin + int(off[0]) if len(off) else end
        parts.append((begin, max(stop, begin + 1)))
        begin = parts[-1][1]
    return parts


def _make_line(
    path: Path,
    times: Floats,
    velocity: NDArray[np.complex128],
    run: tuple[int, int],
    number: int,
) -> Line | None:
    begin, end = float(times[run[0]]), float(times[run[1] - 1])
    mean = velocity[run[0] : run[1]].mean()
    length = abs(mean) * (end - begin)
    if end - begin < _LEAST_LINE_S or length < _LEAST_LINE_M:
        return None
    east, north = interpolate(path, np.array([(begin + end) / 2]))
    return Line(
        number,
        begin,
        end,
        float(np.degrees(np.arctan2(mean.real, mean.imag)) % 360),
        float(abs(mean)),
        (float(east[0]), float(north[0])),
    )


def mark_lines(times: Floats, lines: tuple[Line, ...]) -> NDArray[np.int64]:
    """Return the number of the line that each time lies in; 0 for none."""
    numbers = np.zeros(len(times), dtype=np.int64)
    for line in lines:
        numbers[(times >= line.begin_s) & (times <= line.end_s)] = line.number
    return numbers


def find_spacing(lines: tuple[Line, ...]) -> float | None:
    """Return the usual distance between lines that lie side by side; None for fewer than two.

    Those count that run within some degrees of the most frequent direction, there or back.
    """
    if len(lines) < 2:
        return None
    axes = np.array([line.course_deg % 180 for line in lines])
    weights = np.array([line.end_s - line.begin_s for line in lines])
    near = np.abs((axes[:, None] - axes[None, :] + 90) % 180 - 90) <= _SAME_COURSE_DEG
    main = int(np.argmax(near @ weights))
    course = np.radians(axes[main])
    across = np.array([np.cos(course), -np.sin(course)])
    offsets = sorted(
        float(np.dot(across, line.middle))
        for line, same in zip(lines, near[main], strict=True)
        if same and np.isfinite(line.middle).all()
    )
    steps = [b - a for a, b in itertools.pairwise(offsets) if b - a > 1.0]
    return float(np.median(steps)) if steps else None
