"""How far a different setting can move the result, from this job's own records.

Only what is sure is predicted: heights by the geoid height of the registered grid at the place,
lever arms by their difference, feet by their ratio. Everything else says why nothing is said.

h = H + N; the two feet are those of `ledger.expected.feet`.
"""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from fractions import Fraction

from ledger.compare.difference import Effect
from ledger.compare.site import Site
from ledger.expected import compute_misread_foot
from ledger.model.known import KnownValue
from ledger.model.process import Process

Pair = tuple[Process, Process]
_Rule = Callable[[Pair, Site], Effect]

_UNKNOWN = "how far it moves the result cannot be told from this job's records"
_FEET = frozenset({"us-survey-foot", "international-foot"})


def predict_effect(name: str, pair: Pair, site: Site) -> Effect:
    """Return how far a setting that differs between two runs can move the result.

    Args:
        name: name of the setting.
        pair: the runs, first and second.
        site: what the job says of the place.
    """
    rule = _RULES.get(name)
    return Effect(None, _UNKNOWN) if rule is None else rule(pair, site)


def _value(process: Process, name: str) -> str:
    known = process.find_value(name)
    return "" if known is None else str(known.value)


def _predict_heights(pair: Pair, site: Site) -> Effect:
    """Ellipsoidal h against orthometric H: the second less the first is -N, or +N."""
    kinds = tuple(_value(process, "output_height_type") for process in pair)
    if set(kinds) != {"ellipsoidal", "orthometric"}:
        return Effect(None, "site heights have a zero of their own")
    orthometric = pair[kinds.index("orthometric")]
    height = site.find_geoid_height(_find_grid(orthometric, pair))
    if height is None:
        return Effect(None, "heights move by the geoid height, and no registered grid gives it")
    moved = -height if kinds[0] == "ellipsoidal" else height
    return Effect(moved, f"heights move by the geoid height here ({height:+} m in that grid)")


def _find_grid(first: Process, pair: Pair) -> KnownValue | None:
    found = (process.find_value("geoid_file") for process in (first, *pair))
    return next((known for known in found if known is not None), None)


def _predict_geoid(pair: Pair, site: Site) -> Effect:
    """H = h - N: another grid moves heights by what it is less than the first."""
    if len({_value(process, "output_height_type") for process in pair}) > 1:
        return Effect(None, "counted with the kind of heights")
    if {_value(process, "output_height_type") for process in pair} == {"ellipsoidal"}:
        return Effect(Decimal(0), "no geoid is in ellipsoidal heights")
    before, after = (site.find_geoid_height(each.find_value("geoid_file")) for each in pair)
    if before is None or after is None:
        return Effect(
            None, "heights move by the difference of the grids, and one of them is absent"
        )
    return Effect(before - after, "heights move by the difference of the two grids here")


def _predict_applications(pair: Pair, site: Site) -> Effect:
    """Each application subtracts the geoid height once."""
    if len({_value(process, "output_height_type") for process in pair}) > 1:
        return Effect(None, "counted with the kind of heights")
    height = site.find_geoid_height(_find_grid(pair[1], pair))
    if height is None:
        return Effect(None, "heights move by the geoid height, and no registered grid gives it")
    counts = [int(_value(process, "geoid_applications")) for process in pair]
    return Effect(
        height * (counts[0] - counts[1]), f"each application moves heights by {-height:+} m here"
    )


def _predict_arm(pair: Pair, _site: Site) -> Effect:
    """The length of the difference: in which direction depends on the attitude."""
    axes = {_value(process, "lever_arm_convention") for process in pair}
    arms = [process.find_value("lever_arm") for process in pair]
    vectors = [known.value for known in arms if known is not None and isinstance(known.value, list)]
    if len(axes) > 1 or len(vectors) != 2:
        return Effect(None, "the arms are stated along different axes")
    parts = [Decimal(b) - Decimal(a) for a, b in zip(*vectors, strict=True)]
    length = sum((part * part for part in parts), Decimal(0)).sqrt().quantize(Decimal("0.001"))
    return Effect(
        length, "the cloud moves by at most this, in a direction that turns with the aircraft"
    )


def _predict_unit(pair: Pair, site: Site) -> Effect:
    units = [_value(process, "unit_horizontal") for process in pair]
    northing = site.find_northing()
    if set(units) != _FEET or northing is None:
        return Effect(None, "the numbers change with the unit; where the points lie does not")
    moved = abs(compute_misread_foot(Fraction(northing)))
    metres = (Decimal(moved.numerator) / Decimal(moved.denominator)).quantize(Decimal("0.001"))
    return Effect(metres, "read in the other foot, the northing is off by this")


_RULES: dict[str, _Rule] = {
    "output_height_type": _predict_heights,
    "geoid_file": _predict_geoid,
    "geoid_name": _predict_geoid,
    "geoid_version": _predict_geoid,
    "geoid_applications": _predict_applications,
    "lever_arm": _predict_arm,
    "unit_horizontal": _predict_unit,
}
