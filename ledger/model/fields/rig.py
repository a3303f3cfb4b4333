"""The fields of a rig: scanner, bracket and aircraft as one unit."""

from __future__ import annotations

from ledger.model.field import Field, FieldType
from ledger.model.fields.choices import (
    AS_ON_LABEL,
    AXIS_CONVENTIONS,
)

_T = FieldType

_RIG_ARMS = ("rig.lever_arm_aircraft", "rig.lever_arm_scanner")
_CALIBRATIONS = ("rig.calibration_date", "rig.calibration_file")

RIG_FIELDS = (
    Field(
        "rig.scanner_serial",
        "Scanner unit, serial or label",
        why="nobody can say which calibration applies",
        note=AS_ON_LABEL,
    ),
    Field(
        "rig.aircraft_serial",
        "Aircraft, serial or label",
        why="nobody can say which antenna was meant",
        note=AS_ON_LABEL,
    ),
    Field("rig.base_serial", "Base receiver, serial or label", core=False, note=AS_ON_LABEL),
    Field(
        "rig.bracket",
        "Bracket between aircraft and scanner",
        why="a changed bracket with the old lever arm is not seen",
        note="its label; another one for each change of legs, plate or spacer",
        weight=2,
    ),
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
    Field(
        "rig.lever_arm_uncertainty",
        "How well the lever arm is known",
        _T.NUMBER,
        "m",
        core=False,
        follows=_RIG_ARMS,
    ),
    Field(
        "rig.photo_arm",
        "Photo of bracket and antenna, with the tape",
        _T.FILE,
        core=False,
        follows=_RIG_ARMS,
    ),
    Field(
        "rig.tested_range",
        "Longest range at which the scanner was tried",
        _T.NUMBER,
        "m",
        core=False,
        follows=("rig.scanner_serial",),
    ),
    Field("rig.calibration_date", "Date of the scanner calibration", _T.DATE),
    Field(
        "rig.calibration_file",
        "Calibration file",
        _T.FILE,
        why="nobody can say which calibration applies",
        follows=("rig.calibration_date",),
    ),
    Field(
        "rig.calibration_serial",
        "Scanner unit that the calibration is of",
        why="a calibration of another unit is not seen",
        note="serial or label as the calibration states it",
        follows=_CALIBRATIONS,
    ),
)
