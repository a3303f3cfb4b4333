"""The rules that recorded settings have to keep, as rows of one table.

Sources: common practice of the trade, no source, unless a row says otherwise. Ids beginning with
SC are rules of settings, the others name the failures that a broken rule points to.

How values are put into the sentences is said in `wording.py`.
"""

from __future__ import annotations

from ledger.model.finding import Grade
from lidar_checks.settings.conditions import (
    all_of,
    arm_applied_once,
    arm_as_measured,
    at_least,
    geoid_applied_as_asked,
    is_true,
    one_of,
    readings_agree,
    same,
    same_frame,
    same_geoid,
    starts_at_aircraft_antenna,
)
from lidar_checks.settings.rule import Rule

_MOUNT = (
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

_POSITION = (
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

_LEVER_ARM = (
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

_BASE = (
    Rule(
        ids=("GN-02",),
        topic="base-height",
        grade=Grade.MINOR,
        unless=(
            "flight.base_kind",
            ("network", "permanent station", "satellite service", "none"),
        ),
        operands=("flight.base_height", "flight.base_height_again"),
        holds=readings_agree("flight.base_height", "flight.base_height_again"),
        broken="The height of the base antenna of {flight} was read as {flight.base_height} m and "
        "as {flight.base_height_again} m.",
        right="Two readings of the base antenna of {flight} agree, {flight.base_height} m and "
        "{flight.base_height_again} m.",
        unclear="The two readings of the base antenna of {flight} are no numbers.",
        remedy="Find out which one is right (a photo of the tape, the log of the base), amend "
        "{flight}, and process again where the wrong one was used.",
        found="{flight.base_height} m and {flight.base_height_again} m in "
        "{flight}{flight.base_height|how}",
        expected="two readings within {tolerance}",
    ),
)

_HEIGHT = (
    Rule(
        ids=("SC-11", "VD-01", "VD-02"),
        topic="height-chain",
        grade=Grade.MAJOR,
        operands=("source.height_type", "run.input_height_type"),
        holds=same("source.height_type", "run.input_height_type"),
        broken="{run} took its heights for {run.input_height_type}; they came in as "
        "{source.height_type}.",
        right="{run} took its {run.input_height_type} heights for what they are.",
        remedy="Set the input heights to {source.height_type} and process again.",
        found="heights taken for {run.input_height_type} in {run}{run.input_height_type|how}",
        expected="{source.height_type}, as {source.height_type|owner} gave "
        "them{source.height_type|how}",
    ),
    Rule(
        ids=("SC-12", "VD-01", "VD-02", "VD-03"),
        topic="height-chain",
        grade=Grade.MAJOR,
        when=("specification.coordinates.vertical", ("orthometric", "ellipsoidal")),
        operands=("source.height_type", "run.geoid_name"),
        optional=("run.geoid_applications",),
        holds=geoid_applied_as_asked,
        broken="From {source.height_type} heights, with geoid “{run.geoid_name}”, {run} cannot "
        "give the {specification.coordinates.vertical} heights that the job asks for[; a geoid "
        "was applied {run.geoid_applications|time} by the record].",
        right="{run} applied a geoid as often as {specification.coordinates.vertical} heights "
        "need.",
        remedy="Process again: a geoid once for orthometric heights, never for ellipsoidal ones.",
        found="{source.height_type} heights from "
        "{source.height_type|owner}{source.height_type|how}, geoid "
        "“{run.geoid_name}” in {run}{run.geoid_name|how}[, a geoid applied "
        "{run.geoid_applications|time} by the record{run.geoid_applications|how}]",
        expected="{specification.coordinates.vertical} heights, as job.toml "
        "asks{specification.coordinates.vertical|how}: a geoid {wanted}",
        last_only=True,
    ),
    Rule(
        ids=("SC-13", "VD-05"),
        topic="height-chain",
        grade=Grade.MAJOR,
        unless=("run.geoid_name", ("none",)),
        operands=("run.frame", "run.geoid_frame"),
        holds=same_frame("run.frame", "run.geoid_frame"),
        broken="The geoid of {run} belongs to frame {run.geoid_frame}; the heights are in "
        "{run.frame}.",
        right="Heights and geoid of {run} are in one frame, {run.frame}.",
        unclear="The geoid of {run} belongs to frame {run.geoid_frame}, the heights are in "
        "{run.frame}: perhaps one frame written in two ways.",
        remedy="Process again with the geoid of that frame, or transform first.",
        found="a geoid of frame {run.geoid_frame} in {run}{run.geoid_frame|how}",
        expected="of {run.frame}, the frame of the heights{run.frame|how}",
    ),
    Rule(
        ids=("SC-14", "VD-04"),
        topic="height-chain",
        grade=Grade.MAJOR,
        unless=("run.geoid_name", ("none",)),
        operands=("run.geoid_name", "specification.coordinates.geoid.name"),
        optional=(
            "run.geoid_version",
            "run.geoid_file",
            "specification.coordinates.geoid.version",
            "specification.coordinates.geoid.file",
        ),
        holds=same_geoid,
        broken="{run} used geoid {run.geoid_name}[ {run.geoid_version}]; the job asks for "
        "{specification.coordinates.geoid.name}[ {specification.coordinates.geoid.version}]"
        "[ (grid {run.geoid_file} against {specification.coordinates.geoid.file})].",
        right="{run} used the geoid that the job asks for, {run.geoid_name}.",
        unclear="{run} names geoid {run.geoid_name}[ {run.geoid_version}], as the job does, but "
        "not all that would prove it: version and grid file (run.geoid_version, run.geoid_file).",
        remedy="Process again with geoid {specification.coordinates.geoid.name}"
        "[ {specification.coordinates.geoid.version}].",
        found="geoid {run.geoid_name}[ {run.geoid_version}][, grid {run.geoid_file},] in "
        "{run}{run.geoid_name|how}",
        expected="{specification.coordinates.geoid.name}[ "
        "{specification.coordinates.geoid.version}][, grid "
        "{specification.coordinates.geoid.file}], as job.toml "
        "asks{specification.coordinates.geoid.name|how}",
    ),
    Rule(
        ids=("VD-01", "SC-12"),
        topic="height-chain",
        grade=Grade.MAJOR,
        when=("specification.coordinates.vertical", ("orthometric", "ellipsoidal", "site")),
        operands=("run.output_height_type",),
        holds=same("run.output_height_type", "specification.coordinates.vertical"),
        broken="{run} gave {run.output_height_type} heights; the job asks for "
        "{specification.coordinates.vertical} ones.",
        right="{run} gave {run.output_height_type} heights, as the job asks.",
        remedy="Process again with {specification.coordinates.vertical} heights[ (geoid of the "
        "job: {specification.coordinates.geoid.name})].",
        found="{run.output_height_type} heights out of {run}{run.output_height_type|how}",
        expected="{specification.coordinates.vertical} heights, as job.toml "
        "asks{specification.coordinates.vertical|how}",
        optional=("specification.coordinates.geoid.name",),
        last_only=True,
    ),
)

RULES = (*_MOUNT, *_POSITION, *_LEVER_ARM, *_BASE, *_HEIGHT)
