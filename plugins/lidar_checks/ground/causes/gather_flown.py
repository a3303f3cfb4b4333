"""How the aircraft flew over each point: its heading, its speed, how high and how far beside.

A checkpoint lies under several passes, and the surface there is that of all their points. What
turns with the aircraft therefore counts at a checkpoint as the mean over its passes, each with the
share of the points that it left there.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ledger.contract.evidence import Evidence
from ledger.dataclass import dataclass
from ledger.model.fieldlogs import Track
from lidar_checks.flight.beside_family import Beside, find_beside, find_views
from lidar_checks.flight.flight_check import read_number
from lidar_checks.ground.causes.observed import Floats, Observed
from lidar_checks.ground.causes.site_facts import Missing, Overflown

Complexes = NDArray[np.complex128]

_LOOK_S = 1.0
# Slower than this an aircraft has no course (common practice, no source).
_LEAST_SPEED = 0.5
# So much of what lies round a point has to be of moments that the path knows.
_KNOWN_SHARE = 0.8
_FEWEST = 5
_FLIGHT_HEIGHT = "flight.height_above_ground"


def gather_overflown(
    observed: Observed, evidence: Evidence
) -> tuple[Overflown | None, tuple[Missing, ...]]:
    """Return how each point was flown over, or why that is not known.

    Args:
        observed: the points, with their passes.
        evidence: trajectories and position logs.
    """
    if not any(observed.passes):
        return None, (Missing("overflown", "the points round the checkpoints have no GPS times"),)
    beside = find_beside(evidence)
    if beside is None:
        why = "no trajectory or position log with known times and places stands behind them"
        return None, (Missing("overflown", why),)
    if any(track.place != "job" for track in beside.tracks):
        why = f"nothing says in which system the places of {beside.names} are"
        return None, (Missing("overflown", why),)
    found = _join_passes(observed, _look_up(observed, beside, evidence), beside)
    if int(np.isfinite(found.across).sum()) < _FEWEST:
        why = f"{beside.names} has no moment at which most of them were measured"
        return None, (Missing("overflown", why),)
    return found, ()


@dataclass(frozen=True, eq=False)
class _Passes:
    """All passes of all points, (m,); places and directions are east plus i north.

    Args:
        point: index of the point.
        share: of the points round it.
        heading: of the aircraft, length one; NaN where not known.
        velocity: metres a second.
        offset: of the point from the path: to the right of the heading plus i ahead, metres.
        height: of the path above the point, metres; NaN where not known.
        by_course: the heading was taken from the course.
    """

    point: NDArray[np.int64]
    share: Floats
    heading: Complexes
    velocity: Complexes
    offset: Complexes
    height: Floats
    by_course: bool


def _look_up(observed: Observed, beside: Beside, evidence: Evidence) -> _Passes:
    index = beside.index
    views = find_views(evidence, float(index.time_s[0]))
    rows = [(i, each) for i, passes in enumerate(observed.passes) for each in passes]
    point = np.array([i for i, _ in rows], dtype=np.int64)
    counts = np.array([each.count for _, each in rows], dtype=np.float64)
    add = [views[each.file].add_s if each.file in views else np.nan for _, each in rows]
    times = np.array([each.time_s for _, each in rows]) + np.array(add)
    before, at, after = (_place(beside, times + shift) for shift in (-_LOOK_S, 0.0, _LOOK_S))
    velocity = (after - before) / (2 * _LOOK_S)
    speed = np.abs(velocity)
    with np.errstate(invalid="ignore"):
        course = np.where(speed > _LEAST_SPEED, velocity / np.where(speed > 0, speed, 1), np.nan)
    noses = _find_headings(beside.tracks, times)
    has_nose = np.isfinite(noses)
    heading = np.where(has_nose, noses, course)
    place = observed.east[point] + 1j * observed.north[point]
    # Turned so that the heading is the imaginary axis: right is real, ahead imaginary.
    offset = (place - at) * np.conj(heading) * 1j
    return _Passes(
        point=point,
        share=counts / np.bincount(point, counts, observed.count)[point],
        heading=heading,
        velocity=velocity,
        offset=offset,
        height=_find_heights(observed, beside, point, times, evidence),
        by_course=not bool(has_nose.all()),
    )


def _place(beside: Beside, times: Floats) -> Complexes:
    """Return where the path was, east plus i north; NaN where it does not know."""
    index = beside.index
    after = np.clip(np.searchsorted(index.time_s, times), 1, len(index.time_s) - 1)
    known = (times >= index.time_s[0]) & (times <= index.time_s[-1])
    known &= index.time_s[after] - index.time_s[after - 1] <= index.broken_s
    path = index.east_m + 1j * index.north_m
    safe = np.where(known, times, index.time_s[0])
    return np.where(known, np.interp(safe, index.time_s, path), np.nan + 0j)


def _find_heights(
    observed: Observed,
    beside: Beside,
    point: NDArray[np.int64],
    times: Floats,
    evidence: Evidence,
) -> Floats:
    if beside.heights == "same":
        index = beside.index
        return np.asarray(np.interp(times, index.time_s, index.height_m) - observed.height[point])
    told = [read_number(card, _FLIGHT_HEIGHT) for card in evidence.flights]
    known = {each[0] for each in told if each is not None}
    return np.full(len(point), known.pop() if len(known) == 1 and None not in told else np.nan)


def _find_headings(tracks: tuple[Track, ...], times: Floats) -> Complexes:
    """Return where the nose pointed, by a trajectory that says so; NaN elsewhere."""
    found = np.full(len(times), np.nan + 0j)
    for track in tracks:
        series = track.series
        if series is None or not np.isfinite(series.heading_deg).any():
            continue
        known = np.isfinite(series.heading_deg)
        time = series.time_s[known]
        # Clockwise from north: north is i, east is 1.
        nose = 1j * np.exp(-1j * np.radians(series.heading_deg[known]))
        inside = (times >= time[0]) & (times <= time[-1])
        turned = np.interp(np.where(inside, times, time[0]), time, nose)
        size = np.abs(turned)
        good = inside & (size > 0.5)
        found[good] = turned[good] / size[good]
    return found


def _join_passes(observed: Observed, passes: _Passes, beside: Beside) -> Overflown:
    """Return the mean over the passes of each point; NaN where too few of them are known."""
    known = np.isfinite(passes.heading) & np.isfinite(passes.offset)
    count = observed.count
    kept = np.where(known, passes.share, 0.0)
    total = np.bincount(passes.point, kept, count)
    weight = kept / np.where(total > 0, total, 1.0)[passes.point]

    def average(values: Floats | Complexes) -> Complexes:
        safe = np.where(known, values, 0.0) * weight
        real = np.bincount(passes.point, np.real(safe), count)
        summed = real + 1j * np.bincount(passes.point, np.imag(safe), count)
        return np.where(total >= _KNOWN_SHARE, summed, np.nan + 0j)

    heading, height, offset = passes.heading, passes.height, passes.offset
    return Overflown(
        log=beside.names,
        forward=_split(average(heading)),
        velocity=_split(average(passes.velocity)),
        height_forward=_split(average(height * heading)),
        across_forward=_split(average(offset.real * heading)),
        ahead_right=_split(average(offset.imag * heading * -1j)),
        across=average(offset.real).real,
        ahead=average(offset.imag).real,
        by_course=passes.by_course,
    )


def _split(values: Complexes) -> Floats:
    return np.column_stack([values.real, values.imag])
