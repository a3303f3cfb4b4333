"""Conditions on numbers: factors of scale, lengths within bounds, ranges, densities."""

from __future__ import annotations

import math
from decimal import Decimal

from lidar_checks.settings.conditions import Answer, Condition, Values, answer

_PPM = Decimal("0.000001")
# A range gate leaves room for slopes and roll; common practice, no source.
_ROOM = 1.2
# Coordinates are stored ten times finer than they have to be true; common practice, no source.
_FINER = 10
_RIGHT_ANGLE_DEG = 90


def same_factor(a: str, b: str) -> Condition:
    """Return the condition that two factors are one, within so many parts per million."""

    def judge(values: Values) -> Answer:
        first, second = values.number(a), values.number(b)
        if first is None or second is None:
            return Answer.UNCLEAR
        return answer(abs(first - second) <= values.limit("factor_apart_max_ppm") * _PPM)

    return judge


def equals_one(key: str) -> Condition:
    """Return the condition that a factor changes nothing, within so many parts per million."""

    def judge(values: Values) -> Answer:
        factor = values.number(key)
        if factor is None:
            return Answer.UNCLEAR
        return answer(abs(factor - 1) <= values.limit("factor_apart_max_ppm") * _PPM)

    return judge


def arm_within(key: str, limit: str) -> Condition:
    """Return the condition that no part of a lever arm is longer than a criterion."""

    def judge(values: Values) -> Answer:
        arm = values.vector(key)
        if arm is None:
            return Answer.UNCLEAR
        return answer(all(abs(part) <= values.limit(limit) for part in arm))

    return judge


def length_within(key: str, least: str, most: str) -> Condition:
    """Return the condition that a length lies between two criteria."""

    def judge(values: Values) -> Answer:
        length = values.number(key)
        if length is None:
            return Answer.UNCLEAR
        return answer(values.limit(least) <= length <= values.limit(most))

    return judge


def range_reaches_ground(values: Values) -> Answer:
    """Say whether a range gate leaves the ground in, with some room.

    The ground at an angle from straight down is at height / cos(angle). Where the largest angle is
    not recorded, only a gate that is too short straight down is broken.
    """
    longest, height = values.number("run.range_max"), values.number("flight.height_above_ground")
    if longest is None or height is None:
        return Answer.UNCLEAR
    if float(longest) < _ROOM * float(height):
        return Answer.BROKEN
    angle = values.number("run.scan_angle_max")
    if angle is None:
        return Answer.UNCLEAR
    if abs(angle) >= _RIGHT_ANGLE_DEG:
        return Answer.UNCLEAR  # the horizon is never reached
    return answer(float(longest) >= _ROOM * float(height) / math.cos(math.radians(float(angle))))


def at_most(a: str, b: str) -> Condition:
    """Return the condition that one number is not above another."""

    def judge(values: Values) -> Answer:
        first, second = values.number(a), values.number(b)
        if first is None or second is None:
            return Answer.UNCLEAR
        return answer(first <= second)

    return judge


def spacing_keeps_density(values: Values) -> Answer:
    """Say whether points thinned to a spacing can still be as dense as the job asks.

    One point in each square of the spacing makes 1/spacing² a square metre; of cubes two layers may
    be met, so twice that is the most. Between the two it is unclear.
    """
    spacing, dense = values.number("run.thinning_spacing"), values.number("job.density")
    if spacing is None or dense is None or spacing <= 0:
        return Answer.UNCLEAR
    most = 1 / (spacing * spacing)
    if most >= dense:
        return Answer.HOLDS
    return Answer.BROKEN if 2 * most < dense else Answer.UNCLEAR


def step_fine_enough(values: Values) -> Answer:
    """Say whether coordinates are stored ten times finer than they have to be true."""
    step, accuracy = values.number("files.scale"), values.number("limit.accuracy_m")
    if step is None or accuracy is None:
        return Answer.UNCLEAR
    return answer(step * _FINER <= accuracy)
