"""The fields of a flight: the field card."""

from __future__ import annotations

from ledger.model.field import Field, FieldType
from ledger.model.fields.choices import (
    BASE_KINDS,
    FRAME_EXAMPLES,
    HEIGHT_TYPES,
    MOUNT_MODES,
    ORIENTATIONS,
    OWN_BASE,
    POSITION_SOURCES,
    SERVICES,
)

_T = FieldType

# Where nobody said what kind of base it was, an antenna is asked for as with an own one.
_WHERE_OWN_BASE = ("flight.base_kind", ("", OWN_BASE))
_WHERE_SERVICE = ("flight.base_kind", SERVICES)
_WHERE_SLANT = ("flight.base_height_kind", ("slant",))
_NO_SLANT = "a slant height cannot be reduced to a vertical one"

FLIGHT_FIELDS = (
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
    Field(
        "flight.tilt_deg",
        "Tilt of the scanner",
        _T.NUMBER,
        "deg",
        when=("flight.orientation", ("tilted",)),
    ),
    Field(
        "flight.position_source",
        "Receiver that gave the positions",
        _T.CHOICE,
        choices=POSITION_SOURCES,
        why="the lever arm of the wrong antenna is not seen",
        weight=2,
    ),
    Field("flight.scanner_antenna_fitted", "Was the scanner's own antenna fitted", _T.YES_NO),
    Field(
        "flight.scanner_serial",
        "Scanner unit, serial or label",
        core=False,
        follows=("flight.rig",),
    ),
    Field(
        "flight.height_type",
        "Heights in the flight log",
        _T.CHOICE,
        choices=HEIGHT_TYPES,
        why="a geoid applied twice or not at all is not seen",
        weight=4,
    ),
    Field("flight.frame", "Reference frame of the positions", note=FRAME_EXAMPLES),
    Field(
        "flight.epoch",
        "Epoch of the positions",
        _T.NUMBER,
        "year",
        core=False,
        follows=("flight.frame",),
    ),
    Field(
        "flight.base_kind",
        "What the positions were corrected by",
        _T.CHOICE,
        choices=BASE_KINDS,
        why="nobody can say in which frame the positions are",
        weight=3,
    ),
    Field(
        "flight.service",
        "Service and station or stream, as typed",
        note="without user name and password",
        when=_WHERE_SERVICE,
    ),
    Field(
        "flight.service_frame",
        "Reference frame of the service",
        why="a service in another frame than the job's is not seen",
        note=FRAME_EXAMPLES,
        when=_WHERE_SERVICE,
        weight=3,
    ),
    Field(
        "flight.service_epoch",
        "Epoch of the service",
        _T.NUMBER,
        "year",
        core=False,
        follows=("flight.service_frame",),
    ),
    Field("flight.base_mark", "Mark under the base antenna", when=_WHERE_OWN_BASE),
    Field(
        "flight.base_height",
        "Height of the base antenna above the mark",
        _T.NUMBER,
        "m",
        why="an antenna height that was left out is not seen",
        note="vertical or slant, as said next",
        when=_WHERE_OWN_BASE,
        weight=3,
    ),
    Field(
        "flight.base_height_again",
        "The same height, read a second time",
        _T.NUMBER,
        "m",
        why="a misread tape is not seen",
        note="read anew, best after the flight",
        follows=("flight.base_height",),
        weight=2,
    ),
    Field(
        "flight.base_height_kind",
        "How the height of the base antenna was read",
        _T.CHOICE,
        choices=("vertical", "slant"),
        follows=("flight.base_height",),
    ),
    Field("flight.base_antenna", "Base antenna, type as on its label", core=False),
    Field(
        "flight.base_antenna_radius",
        "Radius of the base antenna where the tape was held",
        _T.NUMBER,
        "m",
        why=_NO_SLANT,
        note="from its axis, as its data sheet says",
        when=_WHERE_SLANT,
    ),
    Field(
        "flight.base_antenna_offset",
        "Antenna reference point above where the tape was held",
        _T.NUMBER,
        "m",
        why=_NO_SLANT,
        note="negative where it lies below, as its data sheet says",
        when=_WHERE_SLANT,
    ),
    Field("flight.takeoff", "Take-off", _T.TIME),
    Field("flight.landing", "Landing", _T.TIME),
    Field("flight.lines", "Lines flown", _T.COUNT, note="without cross lines"),
    Field("flight.cross_lines", "Cross lines flown", _T.COUNT, core=False),
    Field("flight.line_spacing", "Distance between lines", _T.NUMBER, "m", core=False),
    Field("flight.height_above_ground", "Height above ground", _T.NUMBER, "m", core=False),
    Field("flight.speed", "Speed over ground", _T.NUMBER, "m/s", core=False),
    Field("flight.wind", "Wind", note="such as 4 m/s, gusts, from the west"),
    Field("flight.photo_mount", "Photo of the mount", _T.FILE, core=False),
    Field("flight.photo_base", "Photo of the base antenna with the tape", _T.FILE, core=False),
    Field("flight.photo_mark", "Photo of the mark", _T.FILE, core=False),
    Field("flight.note", "Anything else worth knowing", core=False),
)
