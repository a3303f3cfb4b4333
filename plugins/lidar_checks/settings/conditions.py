"""Conditions that recorded settings have to meet: plain values in, one of three answers out.

Text is compared without regard to case and spaces, numbers as exact decimals.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import field
from decimal import Decimal, InvalidOperation
from enum import Enum
from typing import Any

from ledger.dataclass import dataclass
from ledger.model.sitegeoid import ALIKE_M

Vector = tuple[Decimal, Decimal, Decimal]


class Answer(Enum):
    """Whether a condition is met."""

    HOLDS = "holds"
    BROKEN = "broken"
    UNCLEAR = "unclear"


@dataclass(frozen=True)
class Values:
    """The values that a condition looks at.

    Args:
        by_key: value of every operand that is recorded.
        tolerance_m: how far apart two lengths may be that should be one: a lever arm from the
            measured one along each axis, a reading from another.
        limits: the criteria of the check, by field name.
    """

    by_key: Mapping[str, Any]
    tolerance_m: Decimal = Decimal("0.01")
    limits: Mapping[str, Decimal] = field(default_factory=dict)

    def limit(self, name: str) -> Decimal:
        """Return a criterion of the check."""
        return self.limits[name]

    def text(self, key: str) -> str:
        """Return a value as text without case and spaces; empty when it is not recorded."""
        return "".join(str(self.by_key.get(key, "")).split()).casefold()

    def number(self, key: str) -> Decimal | None:
        """Return a measured number; None when it is not recorded or no number."""
        try:
            number = Decimal(str(self.by_key.get(key)))
        except InvalidOperation:
            return None
        return number if number.is_finite() else None

    def vector(self, key: str) -> Vector | None:
        """Return three numbers; None when they are not recorded or no numbers."""
        value = self.by_key.get(key)
        if not isinstance(value, Sequence) or isinstance(value, str) or len(value) != 3:
            return None
        try:
            x, y, z = (Decimal(str(part)) for part in value)
        except InvalidOperation:
            return None
        return (x, y, z) if all(part.is_finite() for part in (x, y, z)) else None


Condition = Callable[[Values], Answer]


def answer(holds: bool) -> Answer:  # noqa: FBT001 - turns a truth into an answer
    """Return whether a condition is met that cannot be unclear."""
    return Answer.HOLDS if holds else Answer.BROKEN


def same(a: str, b: str) -> Condition:
    """Return the condition that two values are the same."""
    return lambda values: answer(values.text(a) == values.text(b))


def one_of(key: str, *allowed: str) -> Condition:
    """Return the condition that a value is one of some."""
    folded = {"".join(choice.split()).casefold() for choice in allowed}
    return lambda values: answer(values.text(key) in folded)


def all_of(*conditions: Condition) -> Condition:
    """Return the condition that all hold; one that is broken decides."""

    def judge(values: Values) -> Answer:
        answers = {condition(values) for condition in conditions}
        for worst in (Answer.BROKEN, Answer.UNCLEAR):
            if worst in answers:
                return worst
        return Answer.HOLDS

    return judge


def starts_at_aircraft_antenna(values: Values) -> Answer:
    """Say whether the arm is that of the aircraft; positions that were reduced are unclear."""
    start = values.text("run.lever_arm_from")
    if start == "trajectoryatscanner":
        return Answer.UNCLEAR
    return answer(start == "aircraftantenna")


def is_true(key: str) -> Condition:
    """Return the condition that a yes-or-no value is yes."""
    return lambda values: answer(values.by_key.get(key) is True)


def at_least(key: str, least: int) -> Condition:
    """Return the condition that a count is large enough."""

    def judge(values: Values) -> Answer:
        count = values.by_key.get(key)
        if isinstance(count, bool) or not isinstance(count, int):
            return Answer.UNCLEAR
        return answer(count >= least)

    return judge


def readings_agree(a: str, b: str) -> Condition:
    """Return the condition that two lengths lie within the tolerance of each other."""

    def judge(values: Values) -> Answer:
        first, second = values.number(a), values.number(b)
        if first is None or second is None:
            return Answer.UNCLEAR
        return answer(abs(first - second) <= values.tolerance_m)

    return judge


def arm_applied_once(values: Values) -> Answer:
    """Say whether a trajectory that is already at the scanner got no arm on top."""
    if values.text("run.lever_arm_from") != "trajectoryatscanner":
        return Answer.HOLDS
    arm = values.vector("run.lever_arm")
    if arm is None:
        return Answer.UNCLEAR
    return answer(all(abs(part) <= values.tolerance_m for part in arm))


# Each convention as forward, right, down: place in the vector and sign.
_AXES = {
    "forward-right-down": ((0, 1), (1, 1), (2, 1)),
    "forward-left-up": ((0, 1), (1, -1), (2, -1)),
    "right-forward-up": ((1, 1), (0, 1), (2, -1)),
}


def _turn(arm: Vector, convention: str) -> Vector:
    """Return an arm as forward, right, down."""
    first, second, third = (arm[place] * sign for place, sign in _AXES[convention])
    return first, second, third


def arm_as_measured(values: Values) -> Answer:
    """Say whether the arm of a run is the measured one, in whatever axes each is written.

    Where one side does not name its axes, the other side's are taken; numbers that differ then
    but agree in other axes are unclear.
    """
    used, measured = values.vector("run.lever_arm"), values.vector("rig.lever_arm")
    if used is None or measured is None:
        return Answer.UNCLEAR
    used_axes = str(values.by_key.get("run.lever_arm_convention", ""))
    measured_axes = str(values.by_key.get("rig.lever_arm_convention", ""))
    default = next(iter(_AXES))
    a = _turn(used, _known_axes(used_axes) or _known_axes(measured_axes) or default)
    b = _turn(measured, _known_axes(measured_axes) or _known_axes(used_axes) or default)
    if _are_close(a, b, values.tolerance_m):
        return Answer.HOLDS
    if _known_axes(used_axes) and _known_axes(measured_axes):
        return Answer.BROKEN
    fits = any(
        _are_close(_turn(used, one), _turn(measured, other), values.tolerance_m)
        for one in _AXES
        for other in _AXES
        if _may_be(used_axes, one) and _may_be(measured_axes, other)
    )
    return Answer.UNCLEAR if fits else Answer.BROKEN


def _known_axes(convention: str) -> str:
    return convention if convention in _AXES else ""


def _may_be(stated: str, convention: str) -> bool:
    return not _known_axes(stated) or stated == convention


def _are_close(a: Vector, b: Vector, tolerance: Decimal) -> bool:
    return all(abs(one - other) <= tolerance for one, other in zip(a, b, strict=True))


_GEOID_COUNTS = {"orthometric": 1, "ellipsoidal": 0}


def geoid_applied_as_asked(values: Values) -> Answer:
    """Say whether a geoid was applied once for orthometric heights, and never for ellipsoidal.

    Both the count that was typed and the one that follows from the records must be right: heights
    that came in orthometric had one applied already, and a run that names a geoid applies one.
    """
    wanted = _GEOID_COUNTS[values.text("specification.coordinates.vertical")]
    typed = values.by_key.get("run.geoid_applications")
    counts = [count_geoids(values)]
    if isinstance(typed, int) and not isinstance(typed, bool):
        counts.append(typed)
    return answer(all(count == wanted for count in counts))


def count_geoids(values: Values) -> int:
    """Return how often a geoid was applied from receiver to output, by the records."""
    before = values.text("source.height_type") == "orthometric"
    here = values.text("run.geoid_name") != "none"
    return int(before) + int(here)


def same_geoid(values: Values) -> Answer:
    """Say whether the geoid is the specified one.

    The grid settles it, whatever the names: by its bytes, or by what it says at the site, where a
    grid that was renamed, cut or resampled says the same. Without grids name and version must
    agree, and what only one side states leaves it unclear.
    """
    job = "specification.coordinates.geoid"
    used, asked = values.text("run.geoid_file"), values.text(f"{job}.file")
    if used and asked:
        differing = values.number("site.geoid_difference")
        alike = differing is not None and differing <= Decimal(repr(ALIKE_M))
        return answer(used == asked or alike)
    if values.text("run.geoid_name") != values.text(f"{job}.name"):
        return Answer.BROKEN
    version, wanted = values.text("run.geoid_version"), values.text(f"{job}.version")
    if version and wanted and version != wanted:
        return Answer.BROKEN
    complete = (version or not wanted) and not asked
    return Answer.HOLDS if complete else Answer.UNCLEAR
