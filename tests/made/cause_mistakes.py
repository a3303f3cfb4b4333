"""The mistakes that a job may hide, each as what it does to the places of points.

A mistake is planted by computing where a program that makes it would put each point of the ground.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np
from cause_flights import (
    Turn,
    arm,
    lag,
    pitch,
    roll,
    yaw,
)
from cause_sites import Floats, Site, find_geod, find_way

EPOCH, TAKEOFF, JOB_EPOCH = 2026.36, "2026-05-12T14:00:00Z", 2010.0
NONE, UNKNOWN = "none", "unknown"
_FOOT, _SURVEY_FOOT = 0.3048, 1200 / 3937
_RADIUS_M = 6_371_000.0


@dataclass(frozen=True)
class Field:
    """What the field side of a job is like.

    Args:
        antenna_m: height of the base antenna.
        arm_m: vertical lever arm of the aircraft's antenna.
        other_arm_m: of the scanner's own.
        receiver_m: geoid height that the receiver uses.
        model_error_m: true geoid less that of the grid.
        ahead_m, right_m: horizontal parts of the arm of the aircraft's antenna.
        other_ahead_m, other_right_m: of the scanner's own.
        centre_m: phase centre of the base antenna above its reference point.
        radius_m: of the base antenna, whose height was read slant where it is not 0.
        base_off_m: place in the base log less that of its mark.
        angle_rad, lag_s: what an axis and a clock may be off.
    """

    antenna_m: float
    arm_m: float
    other_arm_m: float
    receiver_m: float
    model_error_m: float
    ahead_m: float = 0.0
    right_m: float = 0.0
    other_ahead_m: float = 0.0
    other_right_m: float = 0.0
    centre_m: float = 0.0
    radius_m: float = 0.0
    base_off_m: tuple[float, float, float] = (0.0, 0.0, 0.0)
    angle_rad: float = 0.0
    lag_s: float = 0.0


Move = Callable[[Site, Field], Floats]


def up(heights: Callable[[Site, Field], Floats | float]) -> Move:
    """Return a mistake that lifts points, metres, and moves none aside."""

    def move(site: Site, field: Field) -> Floats:
        lifted = np.broadcast_to(heights(site, field), site.east.shape)
        return np.column_stack([np.zeros((len(site.east), 2)), lifted])

    return move


def _flat(factors: Callable[[Site], Floats]) -> Move:
    """Return a move in plan about the middle of the site."""

    def move(site: Site, field: Field) -> Floats:
        places = np.column_stack([site.east, site.north])
        moved = (places - places.mean(axis=0)) @ factors(site).T
        return np.column_stack([moved, np.zeros(len(places))])

    return move


def _true(site: Site, field: Field) -> Floats:
    return site.sample(site.grid) + field.model_error_m


def _scale_places(factor: float) -> Move:
    def move(site: Site, field: Field) -> Floats:
        return np.column_stack([site.east, site.north, 0 * site.east]) * (factor - 1)

    return move


def _project(site: Site) -> tuple[float, float]:
    """Return combined factor and convergence (radians), by moving a point 10 m to the north."""
    lon, lat = site.lonlat
    way = find_way(site.region.crs)
    step = 1e-4
    east, north = way.transform(
        np.array([lon.mean(), lon.mean()]),
        np.array([lat.mean() - step, lat.mean() + step]),
        direction="INVERSE",
    )
    on_map = float(np.hypot(east[1] - east[0], north[1] - north[0]))
    _, _, on_earth = find_geod(site.region.crs).inv(
        lon.mean(), lat.mean() - step, lon.mean(), lat.mean() + step
    )
    height = float((site.height + site.sample(site.grid)).mean())
    turn = -float(np.arctan2(east[1] - east[0], north[1] - north[0]))
    return on_map / on_earth * _RADIUS_M / (_RADIUS_M + height), turn


def _ground_scale(site: Site) -> Floats:
    return np.eye(2) * (1 / _project(site)[0] - 1)


def _true_north(site: Site) -> Floats:
    """Return what turns a point from grid bearing to true bearing on paper: clockwise."""
    turn = _project(site)[1]
    return np.array([[0.0, turn], [-turn, 0.0]])


def _bend(site: Site, field: Field) -> Floats:
    places = np.column_stack([site.east, site.north])
    away = ((places - places.mean(axis=0)) ** 2).sum(axis=1)
    return np.asarray(-away / (2 * _RADIUS_M))


@dataclass(frozen=True)
class Mistake:
    """One mistake.

    Args:
        name: for the table.
        right: id of its prediction, or its first word.
        move: where it puts the points.
        needs_frame: it takes a frame with a registered way to ITRF2020.
        is_pattern: it shows in how residuals change, not in their mean.
        turn: what it does pass by pass; None for one that does not turn with the aircraft.
        amount: radians or seconds of it.
        is_slant: the height of the base antenna was read slant.
    """

    name: str
    right: str
    move: Move
    needs_frame: bool = False
    is_pattern: bool = False
    turn: Callable[[Field], Turn] | None = None
    amount: Callable[[Field], float] = lambda f: 0.0
    is_slant: bool = False


def _stay(site: Site, field: Field) -> Floats:
    return np.zeros((len(site.east), 3))


def find_slant(field: Field) -> float:
    """Return the slant height of a base antenna, along the tape to its edge."""
    return float(np.hypot(field.antenna_m, field.radius_m))


def _turns(name: str, right: str, turn: Callable[[Field], Turn]) -> Mistake:
    return Mistake(name, right, _stay, turn=turn)


def _is_off(
    name: str, right: str, turn: Callable[[float], Turn], amount: Callable[[Field], float]
) -> Mistake:
    """Return an angle or a lag that is off by an amount."""
    return Mistake(name, right, _stay, turn=lambda f: turn(amount(f)), amount=amount)


def _heights_of(move: Move) -> Move:
    return lambda site, field: move(site, field) * np.array([0.0, 0.0, 1.0])


def _itrf(site: Site, field: Field) -> Floats:
    return site.move_to(EPOCH)


MISTAKES = (
    Mistake("ellipsoidal heights", "geoid-plus", up(_true)),
    Mistake("geoid taken off twice", "geoid-minus", up(lambda s, f: -_true(s, f))),
    Mistake("geoid added", "geoid-twice", up(lambda s, f: 2 * _true(s, f))),
    Mistake("another geoid", "other-geoid", up(lambda s, f: s.sample(s.grid) - s.sample(s.other))),
    Mistake(
        "receiver's altitude",
        "receiver-altitude",
        up(lambda s, f: s.sample(s.grid) - f.receiver_m),
    ),
    Mistake("frame not transformed", "frame-kept", _itrf, needs_frame=True),
    Mistake("frame transformed twice", "frame-twice", lambda s, f: -_itrf(s, f), needs_frame=True),
    Mistake("heights in another frame", "frame-of-heights", _heights_of(_itrf), needs_frame=True),
    Mistake(
        "epoch left out", "epoch", lambda s, f: s.move_to(EPOCH, back=JOB_EPOCH), needs_frame=True
    ),
    Mistake("survey feet read as others", "foot-kind survey", _scale_places(_FOOT / _SURVEY_FOOT)),
    Mistake(
        "feet read as survey feet", "foot-kind international", _scale_places(_SURVEY_FOOT / _FOOT)
    ),
    Mistake("heights in feet", "heights-times-3.28", up(lambda s, f: s.height * (1 / _FOOT - 1))),
    Mistake("antenna height left out", "antenna-omitted", up(lambda s, f: -f.antenna_m)),
    Mistake("antenna height doubled", "antenna-doubled", up(lambda s, f: f.antenna_m)),
    Mistake(
        "slant height taken for vertical",
        "antenna-slant",
        up(lambda s, f: find_slant(f) - f.antenna_m),
        is_slant=True,
    ),
    Mistake("phase centre left out", "centre-omitted", up(lambda s, f: -f.centre_m)),
    Mistake(
        "base off its mark",
        "base-position",
        lambda s, f: np.tile(f.base_off_m, (len(s.east), 1)),
    ),
    _turns("lever arm left out", "arm-omitted", lambda f: arm(-f.ahead_m, -f.right_m, -f.arm_m)),
    _turns(
        "arm of the other antenna",
        "arm-of-other",
        lambda f: arm(
            f.other_ahead_m - f.ahead_m, f.other_right_m - f.right_m, f.other_arm_m - f.arm_m
        ),
    ),
    Mistake("arm with the wrong sign", "arm-reversed", up(lambda s, f: 2 * f.arm_m)),
    Mistake("ground distances", "ground-scale", _flat(_ground_scale), is_pattern=True),
    Mistake("true north", "true-north", _flat(_true_north), is_pattern=True),
    Mistake(
        "one geoid value",
        "single-geoid-value",
        up(lambda s, f: s.sample(s.grid) - s.sample(s.grid).mean()),
        is_pattern=True,
    ),
    Mistake("flat local frame", "flat-frame", up(_bend), is_pattern=True),
    _turns(
        "horizontal arm with the wrong signs",
        "arm-turned",
        lambda f: arm(-2 * f.ahead_m, -2 * f.right_m, 0.0),
    ),
    _turns(
        "forward and right of the arm swapped",
        "arm-swapped",
        lambda f: arm(f.right_m - f.ahead_m, f.ahead_m - f.right_m, 0.0),
    ),
    _turns("UTC for GPS time", "clock-behind", lambda f: lag(-18.0)),
    _is_off("roll off", "roll", roll, lambda f: f.angle_rad),
    _is_off("pitch off", "pitch", pitch, lambda f: 2 * f.angle_rad),
    _is_off("heading off", "yaw", yaw, lambda f: 4 * f.angle_rad),
    _is_off("clock late", "lag", lag, lambda f: f.lag_s),
)
NO_MISTAKE = Mistake(NONE, "", up(lambda s, f: 0.0))
BY_NAME: Mapping[str, Mistake] = {each.name: each for each in MISTAKES}
