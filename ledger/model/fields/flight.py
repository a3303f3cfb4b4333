"""The fields of a flight: the field card."""

from __future__ import annotations

from ledger.model.field import Field, FieldType
from ledger.model.fields.choices import (
    FRAME_EXAMPLES,
    HEIGHT_TYPES,
    MOUNT_MODES,
    ORIENTATIONS,
    POSITION_SOURCES,
)

_T = FieldType

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
    Field("flight.frame", "Reference frame of the positions", note=FRAME_EXAMPLES),
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
