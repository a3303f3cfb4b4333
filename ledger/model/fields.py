"""The one dictionary of record fields.

Forms, `--set`, the cost of a blank, JSON and the documentation are all made from it. A key is
`entry.name`, where `entry` is the kind of record (`rig`, `flight`, `run`, `step`).

Questions and choices are common practice of the trade, no source.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import StrEnum

from ledger.model.known import NOTHING, KnownValue

# The answer that says that there was nothing.
_NONE = "none"


class FieldType(StrEnum):
    """How an answer is read and stored."""

    TEXT = "text"
    CHOICE = "choice"
    NUMBER = "number"
    COUNT = "count"
    YES_NO = "yes or no"
    VECTOR = "three numbers"
    DATE = "date"
    TIME = "time, UTC"
    FILE = "file"
    CRS = "coordinate system"


@dataclass(frozen=True)
class Field:
    """One thing that may be recorded.

    Args:
        key: `run.mount_mode`.
        question: as it is asked.
        type: how an answer is read.
        unit: unit of a number, empty for none.
        choices: allowed answers of a choice.
        why: what a blank costs, in one clause.
        core: asked in the plain form; the others only by `--set` or `--from`.
        when: a field and the answers to it under which the plain form asks this one; empty for
            always.
        follows: fields of which one has to have a value for this one to mean anything: the axes
            of a lever arm mean nothing without the arm. `none` counts as no value.
        note: what an answer has to say beyond unit and format, in one clause.
        weight: how far a fault can move the result that nobody sees because of a blank: 3 for
            metres, 2 for decimetres, 1 for not at all; common practice, no source.
    """

    key: str
    question: str
    type: FieldType = FieldType.TEXT
    unit: str = ""
    choices: tuple[str, ...] = ()
    why: str = ""
    core: bool = True
    when: tuple[str, tuple[str, ...]] = ("", ())
    follows: tuple[str, ...] = ()
    note: str = ""
    weight: int = 1

    @property
    def entry(self) -> str:
        """Return the kind of record that the field belongs to."""
        return self.key.split(".", 1)[0]

    @property
    def name(self) -> str:
        """Return the part of the key after the kind."""
        return self.key.split(".", 1)[1]

    def is_wanted(self, values: Mapping[str, KnownValue]) -> bool:
        """Say whether the plain form of a record with these values asks this field."""
        deciding, answers = self.when
        known = values.get(deciding)
        fits = not deciding or (known is not None and known.value in answers)
        return self.core and fits and self._has_what_it_follows(values)

    def _has_what_it_follows(self, values: Mapping[str, KnownValue]) -> bool:
        known = [values[key] for key in self.follows if key in values]
        return not self.follows or any(each.value not in (*NOTHING, _NONE) for each in known)

    def may_follow(self, keys: Iterable[str]) -> bool:
        """Say whether the answer to one of these fields may make the plain form ask this one."""
        return self.core and bool({self.when[0], *self.follows} & set(keys))


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

_T = FieldType

_RIG = (
    Field("rig.scanner_serial", "Scanner unit, serial or label", why="which calibration applies"),
    Field("rig.aircraft_serial", "Aircraft, serial or label", why="which antenna was meant"),
    Field("rig.base_serial", "Base receiver, serial or label", core=False),
    Field(
        "rig.lever_arm_aircraft",
        "Lever arm from the aircraft antenna to the scanner",
        _T.VECTOR,
        "m",
        why="an arm in a run cannot be compared with the measured one",
    ),
    Field(
        "rig.lever_arm_scanner",
        "Lever arm from the scanner's own antenna to the scanner",
        _T.VECTOR,
        "m",
        core=False,
        why="an arm in a run cannot be compared with the measured one",
    ),
    Field(
        "rig.lever_arm_convention",
        "Axes of the lever arm, in order",
        _T.CHOICE,
        choices=AXIS_CONVENTIONS,
        why="three numbers without axes say nothing",
    ),
    Field("rig.lever_arm_measured", "Date the lever arm was measured", _T.DATE),
    Field("rig.calibration_date", "Date of the scanner calibration", _T.DATE),
    Field("rig.calibration_file", "Calibration file", _T.FILE, core=False),
    Field("rig.bracket", "Bracket, label", core=False),
)

_FLIGHT = (
    Field("flight.rig", "Rig that was flown (G1 …)", why="lever arms cannot be compared"),
    Field("flight.platform", "What carried the scanner", _T.CHOICE, choices=MOUNT_MODES),
    Field(
        "flight.mount_mode",
        "Mount mode set on the scanner",
        _T.CHOICE,
        choices=MOUNT_MODES,
        why="a wrong mount mode in processing is not seen",
    ),
    Field(
        "flight.orientation",
        "How the scanner was mounted",
        _T.CHOICE,
        choices=ORIENTATIONS,
        why="a wrong orientation in processing is not seen",
    ),
    Field("flight.tilt_deg", "Tilt of the scanner", _T.NUMBER, "deg", core=False),
    Field(
        "flight.position_source",
        "Receiver that gave the positions",
        _T.CHOICE,
        choices=POSITION_SOURCES,
        why="the lever arm of the wrong antenna is not seen",
    ),
    Field("flight.scanner_antenna_fitted", "Was the scanner's own antenna fitted", _T.YES_NO),
    Field("flight.scanner_serial", "Scanner unit, serial or label", core=False),
    Field(
        "flight.height_type",
        "Heights in the flight log",
        _T.CHOICE,
        choices=HEIGHT_TYPES,
        why="a geoid applied twice or not at all is not seen",
    ),
    Field("flight.frame", "Reference frame of the positions (NAD83(2011), ITRF2020 …)"),
    Field("flight.epoch", "Epoch of the positions", _T.NUMBER, "year", core=False),
    Field("flight.base_mark", "Mark under the base antenna"),
    Field(
        "flight.base_height",
        "Height of the base antenna above the mark",
        _T.NUMBER,
        "m",
        why="an antenna height that was left out is not seen",
    ),
    Field("flight.base_height_kind", "How it was read", _T.CHOICE, choices=("vertical", "slant")),
    Field("flight.takeoff", "Take-off", _T.TIME),
    Field("flight.landing", "Landing", _T.TIME),
    Field("flight.height_above_ground", "Height above ground", _T.NUMBER, "m", core=False),
    Field("flight.speed", "Speed over ground", _T.NUMBER, "m/s", core=False),
    Field("flight.wind", "Wind", core=False),
    Field("flight.note", "Anything else worth knowing", core=False),
)

_RUN = (
    Field("run.software", "Program that processed", why="outputs cannot be found by program"),
    Field("run.version", "Its version", why="mixed versions in one delivery are not seen"),
    Field("run.build", "Its build", core=False),
    Field("run.started", "Start of the processing", _T.TIME, core=False),
    Field(
        "run.mount_mode",
        "Mount mode set in processing",
        _T.CHOICE,
        choices=MOUNT_MODES,
        why="a wrong mount mode is not seen",
    ),
    Field(
        "run.orientation",
        "Scanner orientation set in processing",
        _T.CHOICE,
        choices=ORIENTATIONS,
        why="a wrong orientation is not seen",
    ),
    Field(
        "run.position_source",
        "Position source set in processing",
        _T.CHOICE,
        choices=POSITION_SOURCES,
        why="the lever arm of the wrong antenna is not seen",
    ),
    Field(
        "run.lever_arm",
        "Lever arm set in processing",
        _T.VECTOR,
        "m",
        why="a wrong lever arm is not seen",
    ),
    Field(
        "run.lever_arm_from",
        "That lever arm starts at",
        _T.CHOICE,
        choices=LEVER_ARM_ORIGINS,
        why="the lever arm of the wrong antenna is not seen",
    ),
    Field(
        "run.lever_arm_convention",
        "Axes of that lever arm, in order",
        _T.CHOICE,
        choices=AXIS_CONVENTIONS,
        core=False,
    ),
    Field("run.trajectory", "Post-processed trajectory that was used", _T.FILE, core=False),
    Field("run.crs", "Coordinate system of the output (EPSG:6346 …)", _T.CRS),
    Field("run.frame", "Reference frame of the output"),
    Field("run.epoch", "Epoch of the output", _T.NUMBER, "year", core=False),
    Field("run.zone", "Zone of the output (17N …)", core=False),
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
    ),
    Field(
        "run.output_height_type",
        "Heights that came out",
        _T.CHOICE,
        choices=HEIGHT_TYPES,
        why="ellipsoidal heights sent as orthometric are not seen",
    ),
    Field("run.vertical_datum", "Vertical datum of the output", core=False),
    Field(
        "run.geoid_name", "Geoid model applied (none when none)", why="a wrong geoid is not seen"
    ),
    Field("run.geoid_version", "Version of the geoid model"),
    Field(
        "run.geoid_file", "Geoid grid file", _T.FILE, why="a renamed or changed grid is not seen"
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
    Field("run.decision", "Keep it", _T.CHOICE, choices=DECISIONS),
    Field("run.reason", "Reason, in one line"),
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
    Field("step.version", "Its version", why="mixed versions in one delivery are not seen"),
    Field("step.build", "Its build", core=False),
    Field("step.started", "Start of the step", _T.TIME, core=False),
    Field(
        "step.settings",
        "Settings that matter, in one line",
        why="nobody can do it again in the same way",
    ),
    Field("step.removed", "Points that were removed, and why", core=False),
    Field("step.crs", "Coordinate system of the output (EPSG:6346 …)", _T.CRS, when=_WHERE_MOVED),
    Field("step.frame", "Reference frame of the output", when=_WHERE_MOVED),
    Field("step.epoch", "Epoch of the output", _T.NUMBER, "year", core=False),
    Field(
        "step.input_height_type",
        "Heights that went in",
        _T.CHOICE,
        choices=HEIGHT_TYPES,
        why="a geoid applied twice or not at all is not seen",
        when=_WHERE_MOVED,
    ),
    Field(
        "step.output_height_type",
        "Heights that came out",
        _T.CHOICE,
        choices=HEIGHT_TYPES,
        why="ellipsoidal heights sent as orthometric are not seen",
        when=_WHERE_MOVED,
    ),
    Field("step.vertical_datum", "Vertical datum of the output", core=False),
    Field(
        "step.geoid_name",
        "Geoid model applied in this step (none when none)",
        why="a wrong geoid is not seen",
        when=_WHERE_MOVED,
    ),
    Field("step.geoid_version", "Version of the geoid model", when=_WHERE_MOVED),
    Field(
        "step.geoid_file",
        "Geoid grid file",
        _T.FILE,
        why="a renamed or changed grid is not seen",
        when=_WHERE_MOVED,
    ),
    Field("step.geoid_frame", "Frame that the geoid belongs to", core=False),
    Field("step.purpose", "What this step was for", core=False),
    Field("step.decision", "Keep it", _T.CHOICE, choices=DECISIONS),
    Field("step.reason", "Reason, in one line"),
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
