"""Lines, velocities and clocks, from paths."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

import numpy as np
import pyproj
import pytest
from made_logs import Flown, make_log, make_track

from ledger.expected.earth import measure_distance_m, to_geodetic
from lidar_checks.flight.clockmatch import match_paths
from lidar_checks.flight.lagnames import name_lag
from lidar_checks.flight.paths import Path, find_lines, find_spacing, make_path


def path_of(flown: Flown, **parts: object) -> Path:
    """Return the path of a flight."""
    path = make_path(make_track(flown, **parts))
    assert path is not None
    return path


@pytest.mark.parametrize("step", [0.2, 1.0])
@pytest.mark.parametrize("turn", [0.0, 33.0])
def test_lines_are_found_with_course_speed_and_distance(step: float, turn: float) -> None:
    """Six lines there and back, the way to the cross line, and that one; turns are none."""
    lines = find_lines(path_of(Flown(step=step, turn=turn)))
    courses = [(line.course_deg + turn) % 360 for line in lines]
    wanted = [90, 270, 90, 270, 90, 270, 90, 180]
    assert courses == pytest.approx(wanted, abs=1.0)
    assert [line.speed for line in lines[:6]] == pytest.approx([5.0] * 6, abs=0.05)
    assert find_spacing(lines) == pytest.approx(35.0, abs=0.2)
    length = lines[0].end_s - lines[0].begin_s
    assert length == pytest.approx(60.0, abs=2.5)


def test_a_hover_has_no_line() -> None:
    """A receiver at rest wanders by a centimetre and flies nowhere."""
    track = make_track(Flown(), keep=lambda time: time < 39)
    path = make_path(track)
    assert path is not None
    assert find_lines(path) == ()


@pytest.mark.parametrize("lag", [0.0, 18.0, -18.0, 14.0, 3600.0, -8 * 3600.0 + 18.0, 0.37])
def test_a_lag_is_found_to_hundredths(lag: float) -> None:
    """Whatever the lag, also of hours, two logs of one flight tell it."""
    second = path_of(Flown(seed=2, step=0.2), late=lag)
    match = match_paths(path_of(Flown()), second, same_place=False, peak_min=0.8, second_max=0.9)
    assert match is not None
    assert match.is_sure
    assert match.lag_s == pytest.approx(lag, abs=0.02)
    assert match.rms_m < 0.1


def test_like_lines_alone_are_too_regular() -> None:
    """Twenty equal lines fit two lines later as well; only where they lie can tell."""
    flown = Flown(lines=20, cross=0.0, still=0.0)
    first, second = path_of(flown), path_of(replace(flown, seed=2), late=18.0)
    blind = match_paths(first, second, same_place=False, peak_min=0.8, second_max=0.9)
    placed = match_paths(first, second, same_place=True, peak_min=0.8, second_max=0.9)
    assert blind is not None
    assert placed is not None
    assert (blind.is_sure, placed.is_sure) == (False, True)
    assert placed.lag_s == pytest.approx(18.0, abs=0.02)


def test_a_turned_frame_does_not_count() -> None:
    """A path in a frame of its own, turned and shifted, has the same lag and the same shape."""
    turned = path_of(Flown(turn=71.0, seed=5), late=18.0, shift=(-9e5, 4e4))
    match = match_paths(path_of(Flown()), turned, same_place=False, peak_min=0.8, second_max=0.9)
    assert match is not None
    assert match.lag_s == pytest.approx(18.0, abs=0.02)
    assert match.rms_m < 0.1


def test_two_other_flights_do_not_match() -> None:
    """Flights of another shape are not alike at any lag."""
    other = path_of(Flown(lines=2, length=700.0, spacing=90.0, turn=50.0, cross=0.0))
    match = match_paths(path_of(Flown()), other, same_place=False, peak_min=0.8, second_max=0.9)
    assert match is None or match.score < 0.8


@pytest.mark.parametrize(
    ("lag", "words"),
    [
        (18.2, "one is UTC, the other GPS time"),
        (-18.0, "one is UTC, the other GPS time"),
        (14.0, "one is GPS time, the other BeiDou time"),
        (4.1, "one is UTC, the other BeiDou time"),
        (19.0, "one is GPS time, the other TAI"),
        (37.0, "one is UTC, the other TAI"),
        (7200.1, "one clock ran in local time, 2 h off"),
        (-19800.0, "one clock ran in local time, 5.5 h off"),
        (
            7218.0,
            "one clock ran in local time, 2 h off and by the seconds between GPS time and UTC",
        ),
        (16.0, None),
        (7260.0, None),
        (0.7, None),
    ],
)
def test_what_a_lag_comes_from(lag: float, words: str | None) -> None:
    """Seconds between scales as of 2026 (IERS Bulletin C, BDS-SIS-ICD), whole and half hours."""
    named = name_lag(lag, datetime(2026, 5, 12, 14, tzinfo=UTC))
    assert (None if named is None else named.words) == words


def test_leap_seconds_are_those_of_the_day() -> None:
    """In 2014 GPS time was 16 s ahead of UTC (IERS Bulletin C 44)."""
    named = name_lag(16.0, datetime(2014, 5, 12, 14, tzinfo=UTC))
    assert named is not None
    assert named.words == "one is UTC, the other GPS time"


@pytest.mark.parametrize(
    "place", [(-80.4, 38.6, 180.0), (9.5, 47.1, 1200.0), (170.6, -45.9, 389.0)]
)
def test_geocentric_places(place: tuple[float, float, float]) -> None:
    """Longitude, latitude and height are those that PROJ computes (EPSG:4978 to 4979)."""
    way = pyproj.Transformer.from_crs("EPSG:4979", "EPSG:4978", always_xy=True)
    x, y, z = way.transform(*place)
    found = to_geodetic(x, y, z)
    assert found[:2] == pytest.approx(place[:2], abs=1e-9)
    assert found[2] == pytest.approx(place[2], abs=1e-3)


def test_distances() -> None:
    """Half a per cent from those on the ellipsoid (PROJ, WGS 84)."""
    geod = pyproj.Geod(ellps="WGS84")
    first, second = (-80.4, 38.6), (-80.1, 38.95)
    assert measure_distance_m(first, second) == pytest.approx(
        geod.inv(*first, *second)[2], rel=0.005
    )


def test_a_track_of_few_epochs_is_no_path() -> None:
    """Fewer than ten positions make no path."""
    assert make_path(make_log(keep=lambda time: np.asarray(time) < 8)) is None
