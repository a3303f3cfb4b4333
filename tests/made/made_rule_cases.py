"""Each rule of settings with values that make it apply, that break it, and that leave it open."""

from __future__ import annotations

from typing import Any, NamedTuple

from lidar_checks.settings.rule import Rule
from lidar_checks.settings.rules import RULES

SCANNER = {
    "flight.position_source": "scanner receiver",
    "flight.scanner_antenna_fitted": True,
    "run.position_source": "scanner receiver",
    "run.lever_arm_from": "scanner antenna",
    "run.lever_arm": ["0.010", "0.000", "0.080"],
}
TRAJECTORY = {
    "run.position_source": "post-processed",
    "run.trajectory": "c" * 64,
    "run.lever_arm_from": "trajectory at scanner",
    "run.lever_arm": ["0", "0", "0"],
}
UNPOSITIONED = {
    "flight.position_source": "none",
    "run.position_source": "none",
    "run.control_used": True,
    "run.control_count": 4,
}
SERVICE = {
    "flight.base_kind": "network",
    "flight.service_frame": "NAD83(2011)",
    "flight.service_epoch": "2010.0",
}


class Case(NamedTuple):
    """One rule with values that keep it, break it and leave it open.

    Attributes:
        rule: its first ids.
        applies: values that make it apply.
        breaks: values that break it.
        blank: the key that is left blank.
        words: what the finding says.
        silent: the rule says nothing where the key is blank.
    """

    rule: str
    applies: dict[str, Any]
    breaks: dict[str, Any]
    blank: str
    words: str
    silent: bool = False


CASES = [
    Case("SC-01", {}, {"flight.mount_mode": "hand"}, "flight.mount_mode", "set to “hand”"),
    Case("SC-02", {}, {"run.mount_mode": "hand"}, "run.mount_mode", "processed it as “hand”"),
    Case(
        "SC-03", {}, {"run.orientation": "inverted"}, "run.orientation", "processed it as inverted"
    ),
    Case(
        "SC-04",
        {},
        {"run.lever_arm_from": "scanner antenna"},
        "run.lever_arm_from",
        "with the lever arm from the scanner antenna",
    ),
    Case(
        "SC-05",
        SCANNER,
        {"run.lever_arm_from": "aircraft antenna"},
        "flight.scanner_antenna_fitted",
        "with the lever arm from the aircraft antenna",
    ),
    Case(
        "SC-05",
        SCANNER,
        {"flight.scanner_antenna_fitted": False},
        "run.lever_arm_from",
        "scanner antenna fitted in F1: no",
    ),
    Case(
        "SC-06",
        TRAJECTORY,
        {"run.lever_arm": ["0.120", "-0.030", "0.250"]},
        "run.trajectory",
        "a lever arm of 0.120 -0.030 0.250 m on top",
    ),
    Case("SC-07", UNPOSITIONED, {"run.control_count": 3}, "run.control_count", "3 points"),
    Case(
        "SC-08",
        {},
        {"flight.position_source": "scanner receiver"},
        "flight.position_source",
        "F1 took its positions from the scanner receiver",
    ),
    Case(
        "SC-09 MB-04",
        {},
        {"run.lever_arm": ["0.120", "-0.030", "0.295"]},
        "run.lever_arm",
        "measured is 0.120 -0.030 0.250 m",
    ),
    Case(
        "SC-09 MB-10",
        {},
        {"flight.scanner_serial": "SU-09"},
        "flight.scanner_serial",
        "flown with scanner SU-09",
    ),
    Case(
        "MB-10",
        {},
        {"rig.calibration_serial": "SU-09"},
        "rig.calibration_serial",
        "is of scanner SU-09; the scanner is SU-07",
    ),
    Case(
        "GN-02",
        {},
        {"flight.base_height_again": "1.532"},
        "flight.base_height_again",
        "was read as 1.523 m and as 1.532 m",
    ),
    Case(
        "SC-10",
        {},
        {"run.lever_arm_convention": "forward-left-up"},
        "run.lever_arm_convention",
        "typed into R1 as forward-left-up",
    ),
    Case(
        "SC-11",
        {},
        {"run.input_height_type": "orthometric"},
        "flight.height_type",
        "they came in as ellipsoidal",
    ),
    Case(
        "SC-12",
        {},
        {"flight.height_type": "orthometric"},
        "run.geoid_name",
        "cannot give the orthometric heights",
    ),
    Case(
        "SC-13",
        {},
        {"run.frame": "ITRF2014"},
        "run.geoid_frame",
        "the heights are in ITRF2014",
    ),
    Case(
        "SC-14",
        {},
        {"run.geoid_name": "demo-geoid-B", "run.geoid_file": "b" * 64},
        "run.geoid_name",
        "used geoid demo-geoid-B 1; the job asks for demo-geoid-A 1",
    ),
    Case(
        "VD-01",
        {},
        {"run.output_height_type": "ellipsoidal"},
        "run.output_height_type",
        "gave ellipsoidal heights; the job asks for orthometric ones",
    ),
    Case(
        "SC-15 CR-02",
        {},
        {"flight.frame": "WGS 84"},
        "run.frame",
        "The positions of F1 are in WGS 84, those of R1 in NAD83(2011)",
    ),
    Case(
        "CR-14 SC-15",
        {"flight.frame": "WGS 84", "run.frame_operation": "EPSG:8366"},
        {"run.frame_operation": "Ballpark geographic offset from WGS 84 to NAD83(2011)"},
        "run.frame",
        "brought WGS 84 to NAD83(2011) by “Ballpark geographic offset",
    ),
    Case(
        "CR-14",
        {"run.frame_operation": "EPSG:8447"},
        {"run.frame_operation": "NAD83 to WGS 84 (1)"},
        "run.frame_operation",
        "by “NAD83 to WGS 84 (1)”, which is good to 4 m",
        silent=True,
    ),
    Case(
        "SC-15 CR-03",
        {},
        {"flight.epoch": "2026.4"},
        "run.epoch",
        "are of epoch 2026.4, those of R1 of epoch 2010.0",
    ),
    Case(
        "CR-02",
        {},
        {"run.frame": "ITRF2014"},
        "run.frame",
        "gave positions in ITRF2014; the system that the job asks for is on NAD83(2011)",
    ),
    Case(
        "CR-03",
        {},
        {"run.epoch": "2026.4"},
        "run.epoch",
        "gave positions of epoch 2026.4; the job asks for epoch 2010.0",
    ),
    Case(
        "SC-16 CR-06",
        {"run.ellipsoid": "GRS 80"},
        {"run.ellipsoid": "Clarke 1866"},
        "run.ellipsoid",
        "gave positions on ellipsoid Clarke 1866",
        silent=True,
    ),
    Case(
        "SC-16 CR-11",
        {"flight.ellipsoid": "WGS 84", "run.ellipsoid": "GRS 80"},
        {"run.ellipsoid": "Clarke 1866"},
        "run.ellipsoid",
        "used Clarke 1866",
    ),
    Case(
        "SC-17",
        SERVICE,
        {"flight.service_frame": "ITRF2020"},
        "flight.service_frame",
        "The service of F1 works in ITRF2020",
    ),
    Case(
        "GN-06",
        SERVICE,
        {"flight.service_epoch": "2026.4"},
        "flight.epoch",
        "gives epoch 2026.4",
    ),
    Case(
        "SC-18 GN-01 CR-02",
        {"flight.base_frame": "NAD83(2011)"},
        {"flight.base_frame": "ITRF2020"},
        "flight.frame",
        "has coordinates in ITRF2020",
    ),
    Case(
        "SC-23 CR-01 CR-06",
        {},
        {"run.crs": "EPSG:6347"},
        "run.crs",
        "gave coordinates in NAD83(2011) / UTM zone 18N; the job asks for NAD83(2011) / UTM",
    ),
    Case("SC-23 CR-01", {}, {"run.zone": "18N"}, "run.zone", "set to zone 18N", silent=True),
    Case(
        "SC-24 SL-09",
        {},
        {"run.trajectory_crs": "EPSG:32617"},
        "run.trajectory_crs",
        "wrote its trajectory in WGS 84 / UTM zone 17N",
    ),
    Case(
        "SC-24 SL-09 VD-01",
        {},
        {"run.trajectory_height_type": "ellipsoidal"},
        "run.trajectory_height_type",
        "wrote its trajectory with ellipsoidal heights",
    ),
    Case(
        "SC-25",
        {},
        {"run.crs": "EPSG:6347"},
        "run.crs",
        "tile_01.las says in its header that it is in NAD83(2011) / UTM zone 17N; R1 made it in",
    ),
    Case(
        "SC-26 UN-01",
        {},
        {"run.unit_horizontal": "us-survey-foot"},
        "run.unit_horizontal",
        "set to us-survey-foot in plan",
        silent=True,
    ),
    Case(
        "SC-26 UN-03",
        {},
        {"run.unit_vertical": "international-foot"},
        "run.unit_vertical",
        "set to international-foot for heights",
        silent=True,
    ),
    Case(
        "SC-27 CR-04",
        {},
        {"run.scale_basis": "ground"},
        "run.scale_basis",
        "gave lengths on the ground; the job asks for lengths on the grid",
    ),
    Case(
        "SC-27 SL-08",
        {"run.combined_factor": "1.0000"},
        {"run.combined_factor": "0.99963"},
        "run.combined_factor",
        "scaled lengths by 0.99963, though",
        silent=True,
    ),
    Case(
        "SC-18 GN-01",
        {},
        {"flight.base_method": "averaged"},
        "flight.base_method",
        "stood on a position that it averaged itself, and R1 used no ground control",
    ),
    Case(
        "SC-19",
        {},
        {"flight.base_height": "1.623"},
        "flight.base_height_kind",
        "has the base antenna 1.5735 m above its mark, raw/base.obs has it 1.5235 m above",
    ),
    Case(
        "SC-28",
        {},
        {"run.leap_seconds": 17},
        "flight.log_time_scale",
        "the scanner ran in GPS time and the flight log in UTC time",
    ),
    Case("SC-40", {}, {"run.lever_arm": ["112", "4", "231"]}, "run.lever_arm", "112 4 231 m"),
    Case(
        "UN-05",
        {},
        {"flight.base_height": "5.003"},
        "flight.base_height",
        "is on record as 5.003 m above its mark",
    ),
    Case(
        "SC-32",
        {},
        {"run.range_max": "80"},
        "flight.height_above_ground",
        "kept ranges up to 80 m, F1 was flown 45 m above ground",
    ),
    Case(
        "PS-05",
        {},
        {"run.range_max": "120"},
        "run.range_max",
        "the scanner was tried up to 100 m",
    ),
    Case("SC-33", {}, {"run.thinning": "smoothing"}, "run.thinning", "(smoothing)"),
    Case(
        "PS-04",
        {"run.thinning": "spacing", "run.thinning_spacing": "0.25"},
        {"run.thinning_spacing": "1.0"},
        "run.thinning_spacing",
        "cannot give the 4.0 points/m²",
    ),
]


def find_rule(name: str) -> Rule:
    """Return the rule of which the ids begin with these, and which has the fewest others."""
    names = tuple(name.split())
    fitting = [rule for rule in RULES if rule.ids[: len(names)] == names]
    return min(fitting, key=lambda rule: len(rule.ids))
