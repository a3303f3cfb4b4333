"""What shows in how residuals change over the site: map scale, convergence, one geoid value, bend.

The mean of such a mistake depends on the point that it was made about, which nothing records; so
only the change over the site is predicted.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from lidar_checks.ground.causes.candidate import LeftOut, Pattern, Predictions, Reading
from lidar_checks.ground.causes.observed import solve
from lidar_checks.ground.causes.site_facts import SiteFacts

EARTH_RADIUS_M = 6_371_000.0
"""Mean radius of the earth (GRS 80, 2a + b over 3: 6 371 008.8 m)."""

# How well these are known (common practice, no source).
SIGMA_SCALE = 10e-6
SIGMA_CONVERGENCE_RAD = math.radians(0.005)
SIGMA_TILT = 2e-6
SHARE_OF_BEND = 0.25 / 3

_PPM = 1e-6
_M_PER_KM = 1e-3


def predict_patterns(facts: SiteFacts) -> Predictions:
    """Return what would change over the site."""
    return _predict_projection(facts) + _predict_single_value(facts) + _predict_bend()


def _predict_projection(facts: SiteFacts) -> Predictions:
    projection = facts.projection
    if projection is None:
        why = facts.tell_missing("projection")
        return Predictions(
            left_out=(LeftOut("map scale", why), LeftOut("the meridian convergence", why))
        )
    turn = projection.convergence_rad
    patterns = (
        _make_scale("ground-scale", "the ground scale", 1 / projection.combined - 1, _GROUND),
        _make_scale("grid-scale", "the combined factor less one", projection.combined - 1, _GRID),
        _make_turn("true-north", "minus the meridian convergence", -turn, _TRUE_NORTH),
        _make_turn("convergence-twice", "the meridian convergence", turn, _TWICE),
    )
    return Predictions(patterns=tuple(replace(e, inputs=(projection.name,)) for e in patterns))


_GROUND = "the cloud has ground distances in a system of map distances"
_GRID = "the cloud has map distances where the checkpoints have ground distances"
_TRUE_NORTH = "the cloud is aligned to true north, not to grid north"
_TWICE = "the convergence was applied twice, or the checkpoints are aligned to true north"


def _make_scale(name: str, quantity: str, value: float, clause: str) -> Pattern:
    remedy = "Settle grid or ground distances with the client, and bring both sides to that."
    reading = Reading(clause, remedy, ("CR-04", "SL-08"))
    values, sigmas = {"scale": value}, {"scale": SIGMA_SCALE}
    return Pattern(name, quantity, (reading,), values, sigmas, "ppm", _PPM)


def _make_turn(name: str, quantity: str, value: float, clause: str) -> Pattern:
    remedy = "Turn the cloud to grid north in the processing, and export again."
    reading = Reading(clause, remedy, ("CR-08", "MB-09"))
    values, sigmas = {"rotation": value}, {"rotation": SIGMA_CONVERGENCE_RAD}
    return Pattern(name, quantity, (reading,), values, sigmas, "deg", math.radians(1))


def _predict_single_value(facts: SiteFacts) -> Predictions:
    """Z = h - N0 leaves N - N0, whose tilt is that of the geoid."""
    if facts.grid is None or facts.asked == "site":
        return Predictions(
            left_out=(LeftOut("the slope of the geoid", facts.tell_missing("grid")),)
        )
    places = np.column_stack([facts.east, facts.north])
    terms = np.column_stack([np.ones(facts.count), places - places.mean(axis=0)])
    if np.linalg.matrix_rank(terms) < terms.shape[1]:
        return Predictions(left_out=(LeftOut("the slope of the geoid", "the points lie in line"),))
    _, east, north = solve(terms, facts.grid.heights)
    values = {"tilt_east": float(east), "tilt_north": float(north)}
    sigmas = dict.fromkeys(values, SIGMA_TILT)
    reading = Reading(
        "one geoid height was used for the whole site",
        f"Process the heights again with the grid {facts.grid.name}.",
        ("VD-07",),
        ("height-chain",),
    )
    inputs = (facts.grid.name,)
    name, told = "single-geoid-value", "the slope of the geoid"
    pattern = Pattern(name, told, (reading,), values, sigmas, "m/km", _M_PER_KM, inputs)
    return Predictions(patterns=(pattern,))


def _predict_bend() -> Predictions:
    """A frame that is level at its origin leaves the ground by d²/2R."""
    bend = -1 / (2 * EARTH_RADIUS_M)
    reading = Reading(
        "the cloud is in a flat local frame, without the curvature of the earth",
        "Process again in the projected system of the job.",
        ("CR-09",),
    )
    values, sigmas = {"bend": bend}, {"bend": abs(bend) * SHARE_OF_BEND}
    told = "the curvature of the earth"
    pattern = Pattern("flat-frame", told, (reading,), values, sigmas, "m/km²", 1e-6)
    return Predictions(patterns=(pattern,))
