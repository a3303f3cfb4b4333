"""The fields of a processing run."""

from __future__ import annotations

from ledger.model.field import Field, FieldType
from ledger.model.fields.choices import (
    AS_SHOWN,
    AXIS_CONVENTIONS,
    DECISIONS,
    FRAME_EXAMPLES,
    HEIGHT_TYPES,
    LEVER_ARM_ORIGINS,
    LINEAR_UNITS,
    MOUNT_MODES,
    NO_GEOID,
    ORIENTATIONS,
    POSITION_SOURCES,
)

_T = FieldType

RUN_FIELDS = (
    Field("run.software", "Program that processed", why="outputs cannot be found by program"),
    Field(
        "run.version",
        "Version of that program",
        why="mixed versions in one delivery are not seen",
        note=AS_SHOWN,
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
    Field("run.frame", "Reference frame of the output", note=FRAME_EXAMPLES),
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
        note=NO_GEOID,
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
