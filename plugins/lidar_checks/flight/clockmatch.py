"""By how much two clocks differ, from two logs of one flight.

The velocities of both, east and north as one complex number, are held against each other at every
lag; a turned frame only turns the phase, and where positions lie does not count. A flight of many
like lines fits itself nearly as well two lines later: where both logs lie in one system, how far
apart they lie at each lag decides between them.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ledger.dataclass import dataclass
from lidar_checks.flight.paths import Floats, Path, compute_velocity, find_step, interpolate

Complexes = NDArray[np.complex128]

WINDOW_S = 7200.0
# Zones of the earth lie up to 14 hours from UTC; looked at where nothing fits within the window.
WIDE_WINDOW_S = 15 * 3600.0
_NEIGHBOUR_S = 15.0
_MOST_CANDIDATES = 8
_REFINE_S = 2.0
# Two logs of one flight lie within metres where the lag is right: frames and lever arms.
_NEAR_M = 10.0
_LEAST_REFINED = 20


@dataclass(frozen=True)
class Match:
    """How two logs fit.

    Args:
        lag_s: what has to be added to the times of the first to get those of the second.
        sigma_s: standard deviation of that, by how far the paths lie apart at it.
        score: 0 to 1, how alike they move at that lag.
        second: the same at the best lag elsewhere.
        apart_m: median distance of the paths at that lag; None where systems differ.
        is_sure: the lag is told from every other, by the score or by the distance.
        rms_m: what is left of the distance after one path is shifted and turned onto the other.
    """

    lag_s: float
    sigma_s: float
    score: float
    second: float
    apart_m: float | None
    is_sure: bool
    rms_m: float


def match_paths(
    first: Path,
    second: Path,
    *,
    same_place: bool,
    peak_min: float,
    second_max: float,
) -> Match | None:
    """Return how two logs fit best; None where they never overlap in motion.

    Args:
        first: the one.
        second: the other.
        same_place: eastings and northings of both are in one system.
        peak_min: least score for a lag to be told at all.
        second_max: the second best score may be this share of the best.
    """
    step = max(find_step(first), find_step(second), 0.2)
    found = _find_candidates(first, second, step, WINDOW_S)
    if not found or found[0][1] < peak_min:
        wide = _find_candidates(first, second, max(step, 1.0), WIDE_WINDOW_S)
        found = wide if wide and (not found or wide[0][1] > found[0][1]) else found
    if not found:
        return None
    lag, score = found[0]
    runner_up = found[1][1] if len(found) > 1 else 0.0
    is_sure = score >= peak_min and runner_up <= second_max * score
    if same_place and not is_sure:
        # Of lags at which both move alike the one where they lie together; rest lies together too.
        rivals = [each for each in found if each[1] > second_max * score]
        near = sorted((_find_apart(first, second, each), each, s) for each, s in rivals)
        apart, lag, score = near[0]
        others = [value for value, _, _ in near[1:]]
        clear = apart <= _NEAR_M and (not others or others[0] > max(3 * apart, _NEAR_M))
        is_sure = score >= peak_min and clear
    refined, sigma = _refine(first, second, lag)
    return Match(
        refined,
        sigma,
        score,
        runner_up,
        _find_apart(first, second, refined) if same_place else None,
        is_sure,
        _fit_shape(first, second, refined),
    )


def _find_candidates(
    first: Path, second: Path, step: float, window: float
) -> list[tuple[float, float]]:
    """Return the best lags, each some seconds from the others, with their scores."""
    short, long, sign = first, second, 1.0
    if first.time_s[-1] - first.time_s[0] > second.time_s[-1] - second.time_s[0]:
        short, long, sign = second, first, -1.0
    a, start_a = _sample(short, step)
    b, start_b = _sample(long, step)
    energy = float((np.abs(a) ** 2).sum())
    if energy <= 0 or not np.any(b):
        return []
    size = len(a) + len(b) - 1
    length = 1 << (size - 1).bit_length()
    cross = np.fft.ifft(np.fft.fft(b, length) * np.conj(np.fft.fft(a, length)))
    moved = np.abs(np.fft.ifft(_spread(np.abs(b) ** 2, len(a), length)))
    cross = np.concatenate([cross[length - len(a) + 1 :], cross[: len(b)]])
    moved = np.concatenate([moved[length - len(a) + 1 :], moved[: len(b)]])
    lags = start_b - start_a + step * np.arange(-len(a) + 1, len(b))
    scores = np.abs(cross) / np.sqrt(energy * np.maximum(moved, 1e-3 * energy))
    inside = np.abs(lags) <= window
    return _list_peaks(sign * lags[inside], scores[inside])


def _spread(power: Floats, width: int, length: int) -> Complexes:
    """Return the transform of the energy that a window of the shorter log covers at each lag."""
    ones = np.zeros(length)
    ones[:width] = 1.0
    return np.asarray(np.fft.fft(power, length) * np.conj(np.fft.fft(ones)))


def _sample(path: Path, step: float) -> tuple[Complexes, float]:
    start = float(np.ceil(path.time_s[0] / step) * step)
    times = np.arange(start, path.time_s[-1], step)
    return np.nan_to_num(compute_velocity(path, times, max(1.0, 2 * step))), start


def _list_peaks(lags: Floats, scores: Floats) -> list[tuple[float, float]]:
    peaks: list[tuple[float, float]] = []
    left = scores.copy()
    while len(left) and len(peaks) < _MOST_CANDIDATES:
        best = int(np.argmax(left))
        if left[best] <= 0:
            break
        peaks.append((float(lags[best]), float(left[best])))
        left[np.abs(lags - lags[best]) <= _NEIGHBOUR_S] = 0
    return peaks


def _pair(first: Path, second: Path, lag: float) -> tuple[Complexes, Complexes]:
    """Return the places of both at the same moments, where both are known."""
    low = max(first.time_s[0], second.time_s[0] - lag)
    high = min(first.time_s[-1], second.time_s[-1] - lag)
    times = np.arange(low, high, max(0.2, (high - low) / 5000)) if high > low else np.empty(0)
    east, north = interpolate(first, times)
    other = interpolate(second, times + lag)
    a, b = east + 1j * north, other[0] + 1j * other[1]
    known = np.isfinite(a) & np.isfinite(b)
    return a[known], b[known]


def _find_apart(first: Path, second: Path, lag: float) -> float:
    a, b = _pair(first, second, lag)
    return float(np.median(np.abs(a - b))) if len(a) >= _LEAST_REFINED else float("inf")


def _refine(first: Path, second: Path, lag: float) -> tuple[float, float]:
    """Return the lag at which the shapes fit best, and its standard deviation, seconds.

    Least squares of the difference of the paths on the velocity, twice; a constant shift and a turn
    between the two systems are taken out.
    """
    sigma = _REFINE_S
    for _ in range(4):
        times = _list_common(first, second, lag)
        if len(times) < _LEAST_REFINED:
            return lag, sigma
        east, north = interpolate(first, times)
        a = east + 1j * north
        other = interpolate(second, times + lag)
        b = other[0] + 1j * other[1]
        velocity = compute_velocity(second, times + lag)
        known = np.isfinite(a) & np.isfinite(b) & np.isfinite(velocity)
        if np.count_nonzero(known) < _LEAST_REFINED:
            return lag, sigma
        a, b, velocity = a[known], b[known], velocity[known]
        turned = _turn_onto(a, b)
        rest = (b - b.mean()) - turned
        rate = velocity - velocity.mean()
        power = float((np.abs(rate) ** 2).sum())
        if power <= 0:
            return lag, sigma
        change = float((rest * np.conj(rate)).real.sum() / power)
        change = max(-_REFINE_S, min(_REFINE_S, change))
        left = rest - change * rate
        sigma = float(np.sqrt((np.abs(left) ** 2).sum() / max(len(a) - 4, 1) / 2 / power))
        lag -= change
    return lag, sigma


def _list_common(first: Path, second: Path, lag: float) -> Floats:
    low = max(first.time_s[0], second.time_s[0] - lag)
    high = min(first.time_s[-1], second.time_s[-1] - lag)
    if high <= low:
        return np.empty(0)
    return np.arange(low, high, max(0.2, (high - low) / 5000))


def _turn_onto(a: Complexes, b: Complexes) -> Complexes:
    """Return the first places about their mean, turned as the second ones lie."""
    centred = a - a.mean()
    turn = complex(((b - b.mean()) * np.conj(centred)).sum())
    return np.asarray(centred * (turn / abs(turn) if turn else 1.0))


def _fit_shape(first: Path, second: Path, lag: float) -> float:
    a, b = _pair(first, second, lag)
    if len(a) < _LEAST_REFINED:
        return float("nan")
    rest = (b - b.mean()) - _turn_onto(a, b)
    return float(np.sqrt((np.abs(rest) ** 2).mean()))
