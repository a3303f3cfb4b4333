"""The fields of a step: what was done to the outputs of a run."""

from __future__ import annotations

from ledger.model.field import Field, FieldType
from ledger.model.fields.choices import (
    AS_SHOWN,
    DECISIONS,
    FRAME_EXAMPLES,
    HEIGHT_TYPES,
    MOVING_STEPS,
    NO_GEOID,
    STEP_KINDS,
)

_T = FieldType

# Whoever changes heights or coordinates has to say into what; a cleaning leaves them alone.
_WHERE_MOVED = ("step.kind", (*MOVING_STEPS, "other"))

STEP_FIELDS = (
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
        note=AS_SHOWN,
    ),
    Field("step.build", "Build of that program", core=False),
    Field("step.started", "Start of the step", _T.TIME, core=False),
    Field("step.ended", "End of the step", _T.TIME, core=False),
    Field("step.command", "Command line, without secrets", core=False),
    Field("step.folder", "Folder that the command was run in", core=False),
    Field("step.exit_status", "Exit status of the command", _T.COUNT, core=False),
    Field(
        "step.settings",
        "Settings that matter, in one line",
        why="nobody can do it again in the same way",
    ),
    Field("step.removed", "Points that were removed, and why", core=False),
    Field("step.crs", "Coordinate system of the output", _T.CRS, when=_WHERE_MOVED),
    Field("step.frame", "Reference frame of the output", when=_WHERE_MOVED, note=FRAME_EXAMPLES),
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
        note=NO_GEOID,
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
