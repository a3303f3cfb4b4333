"""What the height of a base antenna or a lever arm of the wrong kind leaves in the residuals.

A height above the mark that is left out lets the cloud down by that height; one that is entered
twice lifts it. An arm whose scanner lies lower below its antenna than it should be lets it down.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from ledger.dataclass import dataclass
from lidar_checks.ground.causes.arms import (
    ARM_REMEDY,
    ARM_TOPICS,
    BRACKET,
    SIGMA_ARM_M,
    lay_on_map,
    list_wrong_arms,
)
from lidar_checks.ground.causes.candidate import Candidate, LeftOut, Predictions, Reading
from lidar_checks.ground.causes.site_facts import Antenna, Arms, BaseOffset, SiteFacts

# How well these are known (common practice, no source).
SIGMA_ANTENNA_M = 0.003
SIGMA_SLANT_M = 0.002
SIGMA_CENTRE_M = 0.01
SIGMA_BASE_PLAN_M, SIGMA_BASE_HEIGHT_M = 0.02, 0.03
# A base nearer to its mark stood on it.
LEAST_OFFSET_M = 0.03
# A horizontal arm that is off by less is well measured.
LEAST_ARM_M = 0.02

_PHOTO = "read the antenna height from the photo of the base"
_CENTRE = "look up which type of antenna the settings of the base name"


def predict_setup(facts: SiteFacts) -> Predictions:
    """Return what antennas and lever arms would leave."""
    candidates: list[Candidate] = []
    left_out: list[LeftOut] = []
    heights = [antenna for antenna in facts.antennas if antenna.vertical_m is not None]
    if not heights:
        left_out.append(LeftOut("the antenna height", facts.tell_missing("antennas")))
    for antenna in heights:
        candidates += _predict_antenna(antenna, facts.count)
    if not any(arm.aircraft_m is not None or arm.scanner_m is not None for arm in facts.arms):
        left_out.append(LeftOut("the lever arm", facts.tell_missing("arms")))
    for arms in facts.arms:
        candidates += _predict_arms(arms, facts)
    if not facts.bases:
        left_out.append(LeftOut("the base's coordinates", facts.tell_missing("bases")))
    candidates += [_predict_base(base, facts.count) for base in facts.bases if _is_off(base)]
    centres = [each for each in facts.antennas if each.phase_centre_m is not None]
    if not centres:
        left_out.append(LeftOut("the antenna's phase centre", facts.tell_missing("phase_centre")))
    candidates += [each for antenna in centres for each in _predict_centre(antenna, facts.count)]
    return Predictions(tuple(candidates), left_out=tuple(left_out))


def _is_off(base: BaseOffset) -> bool:
    return math.hypot(*base.shift) >= LEAST_OFFSET_M


def _predict_base(base: BaseOffset, count: int) -> Candidate:
    """A base that stands on a wrong coordinate moves the whole cloud by as much."""
    reading = Reading(
        f"the base stood on coordinates that are not those of mark {base.mark}",
        f"Process again with the published coordinates of {base.mark}.",
        ("GN-01",),
        ("base-chain",),
    )
    return Candidate(
        id=f"base-position {base.mark}",
        group="base",
        quantity=f"the place in {base.log} less that of mark {base.mark}",
        readings=(reading,),
        shift=np.tile(base.shift, (count, 1)),
        sigma_plan_m=SIGMA_BASE_PLAN_M,
        sigma_height_m=SIGMA_BASE_HEIGHT_M,
        inputs=(base.log, base.mark),
        separates="measure one published mark with another base",
    )


@dataclass(frozen=True, slots=True)
class _Row:
    """One constant in height: its name, what the number is, the height, and what happened."""

    name: str
    quantity: str
    height: float
    sigma: float
    clause: str
    catalogue: str


def _predict_antenna(antenna: Antenna, count: int) -> list[Candidate]:
    height, told = antenna.vertical_m or 0.0, f"antenna height of {antenna.owner}"
    sigma = SIGMA_ANTENNA_M
    omitted = "the height of the base antenna was left out"
    doubled = "the height of the base antenna was entered twice"
    rows = [
        _Row("antenna-omitted", f"minus the {told}", -height, sigma, omitted, "GN-02"),
        _Row("antenna-doubled", f"the {told}", height, sigma, doubled, "GN-02"),
    ]
    slant, radius = antenna.slant_m, antenna.radius_m
    if slant is not None and radius is not None and slant > radius:
        off = slant - math.sqrt(slant**2 - radius**2)
        taken = "the slant height of the base antenna was taken for the vertical one"
        told = f"slant less vertical {told}"
        rows.append(_Row("antenna-slant", told, off, SIGMA_SLANT_M, taken, "GN-02"))
    remedy = "Enter the antenna height once, and process the base again."
    base = Reading("", remedy, (), ("base-height",))
    return [_make(row, antenna.owner, base, "antenna", count) for row in rows]


def _predict_centre(antenna: Antenna, count: int) -> list[Candidate]:
    """Return what a phase centre leaves: a base taken for lower lets the cloud down."""
    above = antenna.phase_centre_m or 0.0
    told = f"phase centre of the base antenna of {antenna.owner}"
    ignored = "the phase centre of the base antenna was left out"
    twice = "the phase centre of the base antenna was counted twice, in the height and in its type"
    rows = [
        _Row("centre-omitted", f"minus the {told}", -above, SIGMA_CENTRE_M, ignored, "GN-14"),
        _Row("centre-doubled", f"the {told}", above, SIGMA_CENTRE_M, twice, "GN-14"),
    ]
    remedy = "Set the type of the base antenna once, and process the base again."
    base = Reading("", remedy, (), ("base-antenna",))
    made = [_make(row, antenna.owner, base, "antenna", count) for row in rows]
    return [replace(each, separates=_CENTRE) for each in made]


def _predict_arms(arms: Arms, facts: SiteFacts) -> Iterator[Candidate]:
    """Yield what each mistake with an arm leaves: in plan, too, where headings are known."""
    flown = facts.overflown
    for wrong in list_wrong_arms(arms):
        shift = np.tile([0.0, 0.0, wrong.up], (facts.count, 1))
        seen = flown is not None and bool(np.isfinite(flown.forward).all())
        if flown is not None and seen:
            shift += lay_on_map(flown, wrong.ahead, wrong.aside)
        if not wrong.up and (not seen or math.hypot(wrong.ahead, wrong.aside) < LEAST_ARM_M):
            continue
        yield Candidate(
            id=f"{wrong.name} {arms.owner}",
            group="arm",
            quantity=wrong.quantity,
            readings=(Reading(wrong.clause, ARM_REMEDY, (wrong.catalogue,), ARM_TOPICS),),
            shift=shift,
            sigma_plan_m=SIGMA_ARM_M,
            sigma_height_m=SIGMA_ARM_M,
            inputs=(arms.owner,),
            separates=BRACKET,
        )


def _make(row: _Row, owner: str, base: Reading, group: str, count: int) -> Candidate:
    return Candidate(
        id=f"{row.name} {owner}",
        group=group,
        quantity=row.quantity,
        readings=(replace(base, clause=row.clause, catalogue=(row.catalogue,)),),
        shift=np.tile([0.0, 0.0, row.height], (count, 1)),
        sigma_plan_m=0.0,
        sigma_height_m=row.sigma,
        inputs=(owner,),
        separates=_PHOTO,
    )
