"""What turns with the aircraft: horizontal lever arms, clocks that disagree, and axes that do.

Body axes are forward, right and down, and the ground is trajectory + R·(arm + scan), so that an arm
(f, r) that is left out moves the cloud by (-f, -r) along the heading of each pass. A clock that is
late by t moves it by v·t along the track, a pitch that is off by p by H·p ahead. A roll of q lifts
what lies a metres to the right by a·q and moves all of it by H·q to the right; a heading that is
off by w moves it back by a·w (small angles; derived).
"""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from lidar_checks.ground.causes.arms import (
    ARM_REMEDY,
    ARM_TOPICS,
    BRACKET,
    SIGMA_ARM_M,
    lay_on_map,
    list_wrong_arms,
    to_complex,
    to_plan,
)
from lidar_checks.ground.causes.candidate import LeftOut, Predictions, Reading, Turning
from lidar_checks.ground.causes.observed import Floats
from lidar_checks.ground.causes.site_facts import Arms, Overflown, SiteFacts

# How well these are known, and how large they may be (common practice, no source).
SIGMA_CLOCK_S = 0.5
LARGEST_ARM_M, LARGEST_LAG_S, LARGEST_ANGLE_RAD = 1.0, 0.5, math.radians(2.0)
# An arm that is off by less cannot be told from one that is well measured.
LEAST_ARM_M = 0.02

_DEGREE = math.radians(1.0)
_MS = 1e-3
_HEIGHTS = (
    "fly two lines in opposite directions at half the height and at another speed: what stays is "
    "the lever arm, what follows the height an angle, what follows the speed the clock"
)
_TILT = "look at the slope between swaths of opposite directions, which only a roll makes"
_CALIBRATE = "Have the scanner calibrated on its bracket again, and process again with that."
_CLOCK_TOPICS = ("clock-offset", "time-scale")


def predict_turning(facts: SiteFacts) -> Predictions:
    """Return what would turn with the aircraft."""
    flown = facts.overflown
    if flown is None:
        why = facts.tell_missing("overflown")
        return Predictions(left_out=(LeftOut("parts that turn with the aircraft", why),))
    left_out = []
    if not any(_find_right(arms) is not None for arms in facts.arms):
        why = "no rig flown has a lever arm with its axes"
        left_out.append(LeftOut("the horizontal lever arm", why))
    if facts.leap_s is None:
        why = "no flight says when it took off"
        left_out.append(LeftOut("seconds between GPS time and UTC", why))
    if not np.isfinite(flown.height_forward).any():
        why = f"the height of {flown.log} above the ground is not known"
        left_out.append(LeftOut("angles of the scanner", why))
    turning = (
        *(each for arms in facts.arms for each in _predict_arms(arms, flown)),
        *_predict_clock(facts.leap_s, flown),
        *_list_fitted(flown),
    )
    return Predictions(turning=turning, left_out=tuple(left_out))


def _find_right(arms: Arms) -> tuple[float, float] | None:
    return arms.flat.get(arms.right)


def _predict_arms(arms: Arms, flown: Overflown) -> Iterator[Turning]:
    for wrong in list_wrong_arms(arms):
        size = math.hypot(wrong.ahead, wrong.aside)
        if size < LEAST_ARM_M:
            continue
        reading = Reading(wrong.clause, ARM_REMEDY, (wrong.catalogue,), ARM_TOPICS)
        shape = lay_on_map(flown, wrong.ahead, wrong.aside)
        shape[:, 2] = wrong.up
        yield Turning(
            id=f"{wrong.name} {arms.owner}",
            quantity=f"the horizontal lever arm of {arms.owner}",
            readings=(reading,),
            shape=shape / size,
            value=size,
            sigma=SIGMA_ARM_M,
            inputs=(arms.owner, flown.log),
            separates=BRACKET,
        )


def _predict_clock(leap_s: int | None, flown: Overflown) -> Iterator[Turning]:
    if leap_s is None:
        return
    rows = (
        ("clock-behind", -1.0, "the points have UTC where the trajectory has GPS time"),
        ("clock-ahead", 1.0, "the points have GPS time where the trajectory has UTC"),
    )
    for name, sign, clause in rows:
        remedy = "Set the time scale of both logs to what they are, and process again."
        yield Turning(
            id=name,
            quantity=f"{sign * leap_s:+.0f} s of the flight",
            readings=(Reading(clause, remedy, ("GN-04",), _CLOCK_TOPICS),),
            shape=_raise(sign * flown.velocity),
            value=float(leap_s),
            sigma=SIGMA_CLOCK_S,
            unit="s",
            inputs=(flown.log,),
            separates="compare the times of both logs at take-off",
        )


def _list_fitted(flown: Overflown) -> Iterator[Turning]:
    """Yield what no record predicts, so that only the residuals may say how large it is."""
    sideways = -1j * to_complex(flown.height_forward)
    roll, pitch = _raise(to_plan(sideways)), _raise(flown.height_forward)
    roll[:, 2], pitch[:, 2] = flown.across, flown.ahead
    yaw = _raise(flown.ahead_right - flown.across_forward)
    angle = (LARGEST_ANGLE_RAD, "deg", _DEGREE)
    rows = (
        ("roll", "a roll", "the roll of the scanner is off", "MB-05", roll, angle),
        ("pitch", "a pitch", "the pitch of the scanner is off", "MB-06", pitch, angle),
        ("yaw", "a heading", "the heading of the scanner is off", "MB-07", yaw, angle),
        (
            "lag",
            "a lag",
            "the clock of the points is late or early",
            "GN-05",
            _raise(flown.velocity),
            (LARGEST_LAG_S, "ms", _MS),
        ),
        (
            "arm-forward",
            "a forward arm",
            "the forward lever arm is off",
            "MB-03",
            lay_on_map(flown, 1.0, 0.0),
            (LARGEST_ARM_M, "m", 1.0),
        ),
        (
            "arm-right",
            "an arm to the right",
            "the lever arm to the right is off",
            "MB-03",
            lay_on_map(flown, 0.0, 1.0),
            (LARGEST_ARM_M, "m", 1.0),
        ),
    )
    for name, quantity, clause, catalogue, shape, (largest, unit, per_unit) in rows:
        remedy = _CALIBRATE if unit == "deg" else ARM_REMEDY
        if name == "lag":
            remedy = "Look up how the scanner gets its time, and process again without the lag."
        yield Turning(
            id=name,
            quantity=quantity,
            readings=(Reading(clause, remedy, (catalogue,)),),
            shape=shape,
            value=None,
            largest=largest,
            unit=unit,
            per_unit=per_unit,
            inputs=(flown.log,),
            separates=_TILT if name in ("roll", "arm-right") else _HEIGHTS,
        )


def _raise(plan: Floats) -> Floats:
    """Return a move in plan as one that leaves heights where they are."""
    return np.column_stack([plan, np.zeros(len(plan))])
