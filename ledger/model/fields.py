"""The one dictionary of record fields.

Forms, `--set`, the cost of a blank, JSON and the documentation are all made from it. A key is
`entry.name`, where `entry` is the kind of record (`rig`, `flight`, `run`, `step`).

Questions and choices are common practice of the trade, no source.
"""

from __future__ import annotations

from ledger.model.field import Field, FieldType

MOUNT_MODES = ("drone", "hand", "pole", "backpack", "vehicle")
ORIENTATIONS = ("upright", "inverted", "tilted")
POSITION_SOURCES = ("aircraft receiver", "scanner receiver", "post-processed", "none")
HEIGHT_TYPES = ("ellipsoidal", "orthometric", "site")
LEVER_ARM_ORIGINS = ("aircraft antenna", "scanner antenna", "trajectory at scanner")
AXIS_CONVENTIONS = ("forward-right-down", "forward-left-up", "right-forward-up")
LINEAR_UNITS = ("metre", "us-survey-foot", "international-foot")
DECISIONS = ("accepted", "rejected", "undecided")
# Kinds of step that leave the place of every kept point as it was, and those that change it.
KEEPING_STEPS = (
    "cleaning",
    "classification",
    "tiling",
    "merging",
    "thinning",
    "surface model",
)
MOVING_STEPS = ("reprojection", "height change")
STEP_KINDS = (*KEEPING_STEPS, *MOVING_STEPS, "other")

_LABEL = "as on its label"
_AS_SHOWN = "as the program shows it"
_NO_GEOID = "its name as the program shows it, or none where none was applied"
_FRAME = "such as NAD83(2011) or ITRF2020"

_T = FieldType

_RIG_ARMS = ("rig.lever_arm_aircraft", "rig.lever_arm_scanner")

_RIG = (
    Field(
        "rig.scanner_serial",
        "Scanner unit, serial or label",
        why="nobody can say which calibration applies",
        note=_LABEL,
    ),
    Field(
        "rig.aircraft_serial",
        "Aircraft, serial or label",
        why="nobody can say which antenna was meant",
        note=_LABEL,
    ),
    Field("rig.base_serial", "Base receiver, serial or label", core=False, note=_LABEL),
    Field(
        "rig.lever_arm_aircraft",
        "Lever arm from the aircraft antenna to the scanner",
        _T.VECTOR,
        "m",
        why="an arm in a run cannot be compared with the measured one",
        note="the axes are asked next",
        weight=2,
    ),
    Field(
        "rig.lever_arm_scanner",
        "Lever arm from the scanner's own antenna to the scanner",
        _T.VECTOR,
        "m",
        core=False,
        why="an arm in a run cannot be compared with the measured one",
        weight=2,
    ),
    Field(
        "rig.lever_arm_convention",
        "Axes of the lever arm, in order",
        _T.CHOICE,
        choices=AXIS_CONVENTIONS,
        why="three numbers without axes say nothing",
        follows=_RIG_ARMS,
        note="x y z of the arm, as seen from the aircraft",
        weight=2,
    ),
    Field("rig.lever_arm_measured", "Date the lever arm was measured", _T.DATE, follows=_RIG_ARMS),
    Field("rig.calibration_date", "Date of the scanner calibration", _T.DATE),
    Field("rig.calibration_file", "Calibration file", _T.FILE, core=False),
    Field("rig.bracket", "Bracket, label", core=False),
)

_FLIGHT = (
    Field(
        "flight.rig",
        "Rig that was flown",
        why="an arm in a run cannot be compared with the measured one",
        note="its id: G1",
        weight=2,
    ),
    Field("flight.platform", "What carried the scanner", _T.CHOICE, choices=MOUNT_MODES),
    Field(
        "flight.mount_mode",
        "Mount mode set on the scanner",
        _T.CHOICE,
        choices=MOUNT_MODES,
        why="a wrong mount mode in processing is not seen",
        weight=3,
    ),
    Field(
        "flight.orientation",
        "How the scanner was mounted",
        _T.CHOICE,
        choices=ORIENTATIONS,
        why="a wrong orientation in processing is not seen",
        weight=3,
    ),
    Field("flight.tilt_deg", "Tilt of the scanner", _T.NUMBER, "deg", core=False),
    Field(
        "flight.position_source",
        "Receiver that gave the positions",
        _T.CHOICE,
        choices=POSITION_SOURCES,
        why="the lever arm of the wrong antenna is not seen",
        weight=2,
    ),
    Field("flight.scanner_antenna_fitted", "Was the scanner's own antenna fitted", _T.YES_NO),
    Field("flight.scanner_serial", "Scanner unit, serial or label", core=False),
    Field(
        "flight.height_type",
        "Heights in the flight log",
        _T.CHOICE,
        choices=HEIGHT_TYPES,
        why="a geoid applied twice or not at all is not seen",
        weight=4,
    ),
    Field("flight.frame", "Reference frame of the positions", note=_FRAME),
    Field("flight.epoch", "Epoch of the positions", _T.NUMBER, "year", core=False),
    Field("flight.base_mark", "Mark under the base antenna"),
    Field(
        "flight.base_height",
        "Height of the base antenna above the mark",
        _T.NUMBER,
        "m",
        why="an antenna height that was left out is not seen",
        note="slant or vertical is asked next",
        weight=3,
    ),
    Field(
        "flight.base_height_kind",
        "How the height of the base antenna was read",
        _T.CHOICE,
        choices=("vertical", "slant"),
        follows=("flight.base_height",),
    ),
    Field("flight.takeoff", "Take-off", _T.TIME),
    Field("flight.landing", "Landing", _T.TIME),
    Field("flight.height_above_ground", "Height above ground", _T.NUMBER, "m", core=False),
    Field("flight.speed", "Speed over ground", _T.NUMBER, "m/s", core=False),
    Field("flight.wind", "Wind", core=False),
    Field("flight.note", "Anything else worth knowing", core=False),
)

_RUN = (
    Field("run.software", "Program that processed", why="outputs cannot be found by program"),
    Field(
        "run.version",
        "Version of that program",
        why="mixed versions in one delivery are not seen",
        note=_AS_SHOWN,
    ),
    Field("run.build", "Build of that program", core=False),
    Field("run.started", "Start of the processing", _T.TIME, core=False),
    Field(
        "run.mount_mode",
        "Mount mode set in processing",
        _T.CHOICE,
        choices=MOUNT_MODES,
        why="a wrong mount mode is not seen",
        weight=3,
    ),
    Field(
        "run.orientation",
        "Scanner orientation set in processing",
        _T.CHOICE,
        choices=ORIENTATIONS,
        why="a wrong orientation is not seen",
        weight=3,
    ),
    Field(
        "run.position_source",
        "Position source set in processing",
        _T.CHOICE,
        choices=POSITION_SOURCES,
        why="the lever arm of the wrong antenna is not seen",
        weight=2,
    ),
    Field(
        "run.lever_arm_from",
        "Where the lever arm set in processing starts",
        _T.CHOICE,
        choices=LEVER_ARM_ORIGINS,
        why="the lever arm of the wrong antenna is not seen",
        weight=2,
    ),
    Field(
        "run.lever_arm",
        "Lever arm set in processing, to the scanner",
        _T.VECTOR,
        "m",
        why="a wrong lever arm is not seen",
        note="in the axes of the rig",
        weight=2,
    ),
    Field(
        "run.lever_arm_convention",
        "Axes of that lever arm, in order",
        _T.CHOICE,
        choices=AXIS_CONVENTIONS,
        core=False,
        follows=("run.lever_arm",),
    ),
    Field("run.trajectory", "Post-processed trajectory that was used", _T.FILE, core=False),
    Field("run.crs", "Coordinate system of the output", _T.CRS),
    Field("run.frame", "Reference frame of the output", note=_FRAME),
    Field("run.epoch", "Epoch of the output", _T.NUMBER, "year", core=False),
    Field("run.zone", "Zone of the output", core=False, note="such as 17N"),
    Field(
        "run.unit_horizontal",
        "Horizontal unit of the output",
        _T.CHOICE,
        choices=LINEAR_UNITS,
        core=False,
    ),
    Field(
        "run.unit_vertical",
        "Vertical unit of the output",
        _T.CHOICE,
        choices=LINEAR_UNITS,
        core=False,
    ),
    Field(
        "run.input_height_type",
        "Heights that went in",
        _T.CHOICE,
        choices=HEIGHT_TYPES,
        why="a geoid applied twice or not at all is not seen",
        weight=4,
    ),
    Field(
        "run.output_height_type",
        "Heights that came out",
        _T.CHOICE,
        choices=HEIGHT_TYPES,
        why="ellipsoidal heights sent as orthometric are not seen",
        weight=4,
    ),
    Field("run.vertical_datum", "Vertical datum of the output", core=False),
    Field(
        "run.geoid_name",
        "Geoid model applied",
        why="a wrong geoid is not seen",
        note=_NO_GEOID,
        weight=4,
    ),
    Field("run.geoid_version", "Version of the geoid model", follows=("run.geoid_name",)),
    Field(
        "run.geoid_file",
        "Geoid grid file",
        _T.FILE,
        why="a renamed or changed grid is not seen",
        follows=("run.geoid_name",),
        weight=2,
    ),
    Field("run.geoid_frame", "Frame that the geoid belongs to", core=False),
    Field(
        "run.geoid_applications",
        "How often a geoid was applied from receiver to output",
        _T.COUNT,
        core=False,
    ),
    Field(
        "run.control_used",
        "Was ground control used",
        _T.YES_NO,
        why="nobody can say whether checkpoints are independent",
    ),
    Field("run.control_count", "Number of control points used", _T.COUNT, core=False),
    Field("run.range_min", "Shortest range kept", _T.NUMBER, "m", core=False),
    Field("run.range_max", "Longest range kept", _T.NUMBER, "m", core=False),
    Field("run.excluded_sector", "Sector that was left out (aircraft body)", core=False),
    Field("run.purpose", "What this run was for", core=False),
    Field("run.decision", "Keep this run", _T.CHOICE, choices=DECISIONS),
    Field("run.reason", "Reason, in one line", follows=("run.decision",)),
)

# Whoever changes heights or coordinates has to say into what; a cleaning leaves them alone.
_WHERE_MOVED = ("step.kind", (*MOVING_STEPS, "other"))

_STEP = (
    Field(
        "step.kind",
        "What was done",
        _T.CHOICE,
        choices=STEP_KINDS,
        why="nobody can say whether this step moved the points",
    ),
    Field("step.software", "Program that did it", why="outputs cannot be found by program"),
    Field(
        "step.version",
        "Version of that program",
        why="mixed versions in one delivery are not seen",
        note=_AS_SHOWN,
    ),
    Field("step.build", "Build of that program", core=False),
    Field("step.started", "Start of the step", _T.TIME, core=False),
    Field(
        "step.settings",
        "Settings that matter, in one line",
        why="nobody can do it again in the same way",
    ),
    Field("step.removed", "Points that were removed, and why", core=False),
    Field("step.crs", "Coordinate system of the output", _T.CRS, when=_WHERE_MOVED),
    Field("step.frame", "Reference frame of the output", when=_WHERE_MOVED, note=_FRAME),
    Field("step.epoch", "Epoch of the output", _T.NUMBER, "year", core=False),
    Field(
        "step.input_height_type",
        "Heights that went in",
        _T.CHOICE,
        choices=HEIGHT_TYPES,
        why="a geoid applied twice or not at all is not seen",
        when=_WHERE_MOVED,
        weight=4,
    ),
    Field(
        "step.output_height_type",
        "Heights that came out",
        _T.CHOICE,
        choices=HEIGHT_TYPES,
        why="ellipsoidal heights sent as orthometric are not seen",
        when=_WHERE_MOVED,
        weight=4,
    ),
    Field("step.vertical_datum", "Vertical datum of the output", core=False),
    Field(
        "step.geoid_name",
        "Geoid model applied in this step",
        why="a wrong geoid is not seen",
        when=_WHERE_MOVED,
        note=_NO_GEOID,
        weight=4,
    ),
    Field(
        "step.geoid_version",
        "Version of the geoid model",
        when=_WHERE_MOVED,
        follows=("step.geoid_name",),
    ),
    Field(
        "step.geoid_file",
        "Geoid grid file",
        _T.FILE,
        why="a renamed or changed grid is not seen",
        when=_WHERE_MOVED,
        follows=("step.geoid_name",),
        weight=2,
    ),
    Field("step.geoid_frame", "Frame that the geoid belongs to", core=False),
    Field(
        "step.control_used",
        "Was ground control used",
        _T.YES_NO,
        why="nobody can say whether checkpoints are independent",
        when=_WHERE_MOVED,
    ),
    Field("step.purpose", "What this step was for", core=False),
    Field("step.decision", "Keep this step", _T.CHOICE, choices=DECISIONS),
    Field("step.reason", "Reason, in one line", follows=("step.decision",)),
)

# What only a run on raw data can be asked: one that works on what other runs made has none of it.
CAPTURE_SETTINGS = frozenset(
    {
        "run.mount_mode",
        "run.orientation",
        "run.position_source",
        "run.lever_arm",
        "run.lever_arm_from",
        "run.lever_arm_convention",
        "run.trajectory",
    }
)

_ALL = (*_RIG, *_FLIGHT, *_RUN, *_STEP)
FIELDS: dict[str, Field] = {field.key: field for field in _ALL}


def list_fields(entry: str) -> tuple[Field, ...]:
    """Return the fields of one kind of record (`rig`, `flight`, `run`, `step`), in asking order."""
    return tuple(field for field in _ALL if field.entry == entry)
