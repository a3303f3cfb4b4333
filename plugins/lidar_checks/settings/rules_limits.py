"""Rules of lengths and numbers that have bounds: arms, base, range, thinning, stored steps."""

from __future__ import annotations

from ledger.model.fields.choices import SERVICES
from ledger.model.finding import Grade
from lidar_checks.settings.conditions import one_of
from lidar_checks.settings.rule import Rule
from lidar_checks.settings.scale import (
    arm_within,
    at_most,
    length_within,
    range_reaches_ground,
    spacing_keeps_density,
    step_fine_enough,
)

LENGTHS = (
    Rule(
        ids=("SC-40", "UN-05"),
        topic="length-units",
        grade=Grade.MAJOR,
        when=("flight.platform", ("drone",)),
        operands=("run.lever_arm",),
        holds=arm_within("run.lever_arm", "arm_max_m"),
        broken="{run} used a lever arm of {run.lever_arm} m under a drone: that is longer than "
        "such an aircraft, as if millimetres, centimetres or feet had been typed as metres.",
        right="The lever arm of {run}, {run.lever_arm} m, has a length that fits under a drone.",
        unclear="The lever arm of {run} is no three numbers.",
        remedy="Look at the unit of each number, and process again with metres. If the aircraft is "
        "that large, write arm_max_m under criteria.length-units in job.toml.",
        found="{run.lever_arm} m in {run}{run.lever_arm|how}",
        expected="{limit.arm_max_m} m at most along each axis, because {flight} was flown under a "
        "drone{flight.platform|how}",
    ),
    Rule(
        ids=("UN-05", "SC-40"),
        topic="length-units",
        grade=Grade.MAJOR,
        unless=("flight.base_kind", (*SERVICES, "none")),
        operands=("flight.base_height",),
        holds=length_within("flight.base_height", "base_height_min_m", "base_height_max_m"),
        broken="The base antenna of {flight} is on record as {flight.base_height} m above its "
        "mark: no tripod is like that, as if another unit had been typed as metres.",
        right="The base antenna of {flight}, {flight.base_height} m above its mark, is as high as "
        "a tripod makes it.",
        unclear="The height of the base antenna of {flight} is no number.",
        remedy="Look at the unit, and correct {flight} (swathbook record flight {flight}). If it "
        "stood on a pillar or mast, write base_height_min_m or base_height_max_m under "
        "criteria.length-units in job.toml.",
        found="{flight.base_height} m in {flight}{flight.base_height|how}",
        expected="{limit.base_height_min_m} m to {limit.base_height_max_m} m",
    ),
)

RANGE = (
    Rule(
        ids=("SC-32", "PS-05"),
        topic="range-limits",
        grade=Grade.OBSERVATION,
        operands=("run.range_max", "flight.height_above_ground"),
        optional=("run.scan_angle_max",),
        holds=range_reaches_ground,
        broken="{run} kept ranges up to {run.range_max} m, {flight} was flown "
        "{flight.height_above_ground} m above ground[ and points up to {run.scan_angle_max}° from "
        "straight down were kept]: ground at the edges is left out.",
        right="{run} kept ranges up to {run.range_max} m, enough for {flight} at "
        "{flight.height_above_ground} m above ground.",
        unclear="{run} kept ranges up to {run.range_max} m, enough straight down from "
        "{flight.height_above_ground} m; up to which angle points were kept is not on record "
        "(run.scan_angle_max).",
        remedy="Look for thin edges of the strips; process again with a longer range if there are "
        "any.",
        found="ranges up to {run.range_max} m in {run}{run.range_max|how}",
        expected="1.2 times {flight.height_above_ground} m[ / cos {run.scan_angle_max}°], the "
        "height of {flight}{flight.height_above_ground|how}",
    ),
    Rule(
        ids=("PS-05", "SC-32"),
        topic="range-limits",
        grade=Grade.OBSERVATION,
        where_known=("rig.tested_range",),
        operands=("run.range_max", "rig.tested_range"),
        holds=at_most("run.range_max", "rig.tested_range"),
        broken="{run} kept ranges up to {run.range_max} m; the scanner was tried up to "
        "{rig.tested_range} m.",
        right="{run} kept ranges up to {run.range_max} m; the scanner was tried up to "
        "{rig.tested_range} m.",
        unclear="The range of {run} or of the trial is no number.",
        remedy="Look at the noise of far points, or process again with a shorter range.",
        found="ranges up to {run.range_max} m in {run}{run.range_max|how}",
        expected="{rig.tested_range} m at most, as {rig.tested_range|owner} was "
        "tried{rig.tested_range|how}",
    ),
)

EXPORT = (
    Rule(
        ids=("SC-33", "PS-04"),
        topic="export-settings",
        grade=Grade.MINOR,
        operands=("run.thinning",),
        holds=one_of("run.thinning", "none", "spacing"),
        broken="{run} thinned or smoothed its points ({run.thinning}), and the job does not say "
        "that it may.",
        right="{run} thinned by “{run.thinning}”.",
        remedy="Export again without it, or let somebody accept it with the reason.",
        found="thinning “{run.thinning}” in {run}{run.thinning|how}",
        expected="none, or to a spacing that keeps the density of the job",
    ),
    Rule(
        ids=("PS-04", "SC-33"),
        topic="export-settings",
        grade=Grade.MINOR,
        when=("run.thinning", ("spacing",)),
        operands=("run.thinning_spacing", "job.density"),
        holds=spacing_keeps_density,
        broken="{run} thinned its points to {run.thinning_spacing} m; that cannot give the "
        "{job.density} points/m² that the job asks for.",
        right="{run} thinned its points to {run.thinning_spacing} m, which leaves room for "
        "{job.density} points/m².",
        unclear="{run} thinned its points to {run.thinning_spacing} m: whether that leaves "
        "{job.density} points/m² depends on how the program counts.",
        remedy="Export again without thinning, or with a smaller spacing.",
        found="one point every {run.thinning_spacing} m in {run}{run.thinning_spacing|how}",
        expected="room for {job.density} points/m², as job.toml asks{job.density|how}",
    ),
    Rule(
        ids=("SC-34", "FT-01"),
        topic="export-settings",
        grade=Grade.MAJOR,
        where_known=("limit.accuracy_m",),
        operands=("files.scale", "limit.accuracy_m"),
        holds=step_fine_enough,
        broken="{files.scale|owner} stores coordinates in steps of {files.scale} m; for an "
        "accuracy of {limit.accuracy_m} m they have to be ten times finer than that.",
        right="The delivered files of {run} store coordinates in steps of {files.scale} m, fine "
        "enough for an accuracy of {limit.accuracy_m} m.",
        remedy="Export again with a scale ten times finer than the accuracy.",
        found="steps of {files.scale} m in {files.scale|owner}{files.scale|how}",
        expected="a tenth of {limit.accuracy_m} m, the accuracy that job.toml states for {run}",
        last_only=True,
    ),
)
