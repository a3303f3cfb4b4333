"""Rules of a capture: mount mode, source of positions, lever arm."""

from __future__ import annotations

from ledger.model.finding import Grade
from lidar_checks.settings.conditions import (
    all_of,
    arm_applied_once,
    arm_as_measured,
    at_least,
    is_true,
    one_of,
    same,
    starts_at_aircraft_antenna,
)
from lidar_checks.settings.rule import Rule

MOUNT = (
    Rule(
        ids=("SC-01", "RC-08"),
        topic="mount-chain",
        grade=Grade.MINOR,
        when=("flight.platform", ("drone",)),
        operands=("flight.mount_mode",),
        holds=one_of("flight.mount_mode", "drone"),
        broken="{flight} was flown under a drone with the scanner set to “{flight.mount_mode}”.",
        right="{flight} was flown under a drone with the scanner set to “drone”.",
        remedy="Look hard at the result of {run}, or fly again with the scanner set to “drone”.",
        found="scanner set to “{flight.mount_mode}” in {flight}{flight.mount_mode|how}",
        expected="“drone”, because {flight} was flown under a drone{flight.platform|how}",
    ),
    Rule(
        ids=("SC-02", "MB-01"),
        topic="mount-chain",
        grade=Grade.MAJOR,
        operands=("flight.mount_mode", "run.mount_mode"),
        holds=same("flight.mount_mode", "run.mount_mode"),
        broken="{flight} was captured in mount mode “{flight.mount_mode}”, {run} processed it as "
        "“{run.mount_mode}”.",
        right="{flight} was captured and processed in mount mode “{run.mount_mode}”.",
        remedy="Process again in mount mode “{flight.mount_mode}”.",
        found="mount mode “{run.mount_mode}” in {run}{run.mount_mode|how}",
        expected="“{flight.mount_mode}”, as captured in {flight}{flight.mount_mode|how}",
    ),
    Rule(
        ids=("SC-03", "MB-01"),
        topic="mount-chain",
        grade=Grade.MAJOR,
        operands=("flight.orientation", "run.orientation"),
        holds=same("flight.orientation", "run.orientation"),
        broken="The scanner hung {flight.orientation} in {flight}, {run} processed it as "
        "{run.orientation}.",
        right="The scanner hung {flight.orientation} in {flight} and was processed so.",
        remedy="Process again with the scanner {flight.orientation}.",
        found="scanner {run.orientation} in {run}{run.orientation|how}",
        expected="{flight.orientation}, as it hung in {flight}{flight.orientation|how}",
    ),
)

POSITION = (
    Rule(
        ids=("SC-04", "MB-02"),
        topic="position-chain",
        grade=Grade.MAJOR,
        when=("run.position_source", ("aircraft receiver",)),
        operands=("run.lever_arm_from",),
        holds=starts_at_aircraft_antenna,
        broken="{run} used positions of the aircraft receiver with the lever arm from the "
        "{run.lever_arm_from}.",
        right="{run} used positions of the aircraft receiver with the lever arm from its antenna.",
        unclear="{run} used positions of the aircraft receiver as if they were at the scanner "
        "already; whether the aircraft reduces them is not on record.",
        remedy="Process again with the lever arm from the aircraft antenna.",
        found="lever arm from the {run.lever_arm_from} in {run}{run.lever_arm_from|how}",
        expected="from the aircraft antenna, because the positions are those of the aircraft "
        "receiver{run.position_source|how}",
    ),
    Rule(
        ids=("SC-05", "MB-02"),
        topic="position-chain",
        grade=Grade.MAJOR,
        when=("run.position_source", ("scanner receiver",)),
        operands=("run.lever_arm_from", "flight.scanner_antenna_fitted"),
        holds=all_of(
            one_of("run.lever_arm_from", "scanner antenna"),
            is_true("flight.scanner_antenna_fitted"),
        ),
        broken="{run} used positions of the scanner receiver with the lever arm from the "
        "{run.lever_arm_from}; scanner antenna fitted in {flight}: "
        "{flight.scanner_antenna_fitted}.",
        right="{run} used positions of the scanner receiver, its antenna fitted, and its arm.",
        remedy="Process again with the receiver whose antenna was flown, and its lever arm.",
        found="lever arm from the {run.lever_arm_from} in {run}{run.lever_arm_from|how}; "
        "scanner antenna fitted in {flight}: "
        "{flight.scanner_antenna_fitted}{flight.scanner_antenna_fitted|how}",
        expected="from the scanner antenna, and that antenna fitted, because the positions "
        "are those of the scanner receiver{run.position_source|how}",
    ),
    Rule(
        ids=("SC-06", "MB-02"),
        topic="position-chain",
        grade=Grade.MAJOR,
        when=("run.position_source", ("post-processed",)),
        operands=("run.trajectory", "run.lever_arm_from"),
        optional=("run.lever_arm",),
        holds=arm_applied_once,
        broken="{run} used a trajectory that is at the scanner already, and a lever arm of "
        "{run.lever_arm} m on top.",
        right="{run} used a post-processed trajectory, and its lever arm once.",
        unclear="{run} used a trajectory that is at the scanner already; its lever arm is not on "
        "record.",
        remedy="Process again with a lever arm of zero.",
        found="a lever arm of {run.lever_arm} m in {run}{run.lever_arm|how}",
        expected="none, because the trajectory is at the scanner already{run.lever_arm_from|how}",
    ),
    Rule(
        ids=("SC-07", "CP-06"),
        topic="position-chain",
        grade=Grade.MAJOR,
        when=("run.position_source", ("none",)),
        operands=("run.control_used", "run.control_count"),
        holds=all_of(is_true("run.control_used"), at_least("run.control_count", 4)),
        broken="{run} used no positions, and ground control: {run.control_used}, "
        "{run.control_count|point}; nothing else ties it to the ground.",
        right="{run} used no positions but {run.control_count|ground control point}.",
        remedy="Process again with at least 4 ground control points, well spread.",
        found="{run.control_count|ground control point} in {run}{run.control_count|how}, "
        "control used: {run.control_used}{run.control_used|how}",
        expected="4 ground control points or more, because no positions were "
        "used{run.position_source|how}",
    ),
    Rule(
        ids=("SC-08", "MB-02"),
        topic="position-chain",
        grade=Grade.MINOR,
        unless=("run.position_source", ("post-processed",)),
        operands=("flight.position_source", "run.position_source"),
        holds=same("flight.position_source", "run.position_source"),
        broken="{flight} took its positions from the {flight.position_source}, {run} from the "
        "{run.position_source}.",
        right="{flight} and {run} took their positions from the {run.position_source}.",
        remedy="Process again with the receiver that was flown, or accept it with the reason.",
        found="positions from the {run.position_source} in {run}{run.position_source|how}",
        expected="from the {flight.position_source}, as flown in "
        "{flight}{flight.position_source|how}",
    ),
)

LEVER_ARM = (
    Rule(
        ids=("SC-09", "MB-04"),
        topic="lever-arm-chain",
        grade=Grade.MAJOR,
        when=("run.lever_arm_from", ("aircraft antenna", "scanner antenna")),
        operands=("run.lever_arm", "rig.lever_arm"),
        completing=("run.lever_arm_convention", "rig.lever_arm_convention"),
        holds=arm_as_measured,
        broken="{run} used a lever arm of {run.lever_arm} m; measured is {rig.lever_arm} m.",
        right="{run} used the measured lever arm, {run.lever_arm} m.",
        unclear="{run} used a lever arm of {run.lever_arm} m, measured is {rig.lever_arm} m; they "
        "are the same only if their axes differ, which is not on record.",
        remedy="Measure the arm again if in doubt, then process with the measured one.",
        found="{run.lever_arm} m[ {run.lever_arm_convention}] in {run}{run.lever_arm|how}",
        expected="{rig.lever_arm} m[ {rig.lever_arm_convention}] within {tolerance} along "
        "each axis, as {rig.lever_arm|owner} has it{rig.lever_arm|how}",
    ),
    Rule(
        ids=("SC-09", "MB-10"),
        topic="lever-arm-chain",
        grade=Grade.MAJOR,
        operands=("flight.scanner_serial", "rig.scanner_serial"),
        holds=same("flight.scanner_serial", "rig.scanner_serial"),
        broken="{flight} was flown with scanner {flight.scanner_serial}; the lever arm and "
        "calibration on record are of {rig.scanner_serial}.",
        right="{flight} was flown with the scanner on record, {rig.scanner_serial}.",
        remedy="Name the rig that was flown (swathbook record flight {flight}), or process with "
        "that scanner's calibration.",
        found="scanner {flight.scanner_serial} in {flight}{flight.scanner_serial|how}",
        expected="scanner {rig.scanner_serial}, to which {rig.scanner_serial|owner} "
        "belongs{rig.scanner_serial|how}",
    ),
    Rule(
        ids=("MB-10", "SC-09"),
        topic="lever-arm-chain",
        grade=Grade.MAJOR,
        operands=("rig.calibration_serial", "rig.scanner_serial"),
        holds=same("rig.calibration_serial", "rig.scanner_serial"),
        broken="The calibration on record of {rig.scanner_serial|owner} is of scanner "
        "{rig.calibration_serial}; the scanner is {rig.scanner_serial}.",
        right="The calibration on record is of the scanner on record, {rig.scanner_serial}.",
        remedy="Process again with the calibration of that scanner.",
        found="a calibration of {rig.calibration_serial}{rig.calibration_serial|how}",
        expected="of {rig.scanner_serial}, the scanner of "
        "{rig.scanner_serial|owner}{rig.scanner_serial|how}",
    ),
    Rule(
        ids=("SC-10", "MB-03"),
        topic="lever-arm-chain",
        grade=Grade.MINOR,
        operands=("run.lever_arm_convention", "rig.lever_arm_convention"),
        holds=same("run.lever_arm_convention", "rig.lever_arm_convention"),
        broken="The arm was measured as {rig.lever_arm_convention} and typed into {run} as "
        "{run.lever_arm_convention}: a sign or an order is easily lost.",
        right="The arm was measured and typed as {run.lever_arm_convention}.",
        remedy="Check each sign, then let somebody accept it with a reason.",
        found="axes {run.lever_arm_convention} in {run}{run.lever_arm_convention|how}",
        expected="{rig.lever_arm_convention}, as the arm of {rig.lever_arm_convention|owner} "
        "was measured{rig.lever_arm_convention|how}",
    ),
)
