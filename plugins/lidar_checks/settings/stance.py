"""What a process that works on what others made says of them: changed, left alone, or nothing.

One answer for heights, and one for where points lie in plan. That a cleaning or a tiling leaves
every kept point where it was is common practice, no source.
"""

from __future__ import annotations

from enum import Enum

from ledger.model.fields import KEEPING_STEPS, MOVING_STEPS
from ledger.model.process import Process

NO_GEOID = "none"
REPROJECTION = "reprojection"
_HEIGHTS = ("input_height_type", "output_height_type", "geoid_name")
# A system alone says nothing: it is read from the output, also where a cleaning left it as it was.
_POSITIONS = ("frame", "zone", "unit_horizontal", "scale_basis")


class Stance(Enum):
    """What a process says of heights, or of positions."""

    SETTLES = "settles"
    KEEPS = "keeps"
    SILENT = "silent"


def find_height_stance(process: Process) -> Stance:
    """Return what a process on what others made says of heights."""
    return _find_stance(process, _HEIGHTS, MOVING_STEPS)


def find_position_stance(process: Process) -> Stance:
    """Return what a process on what others made says of frame, zone, unit and scale.

    A change of heights leaves them alone.
    """
    kind = process.find_value("kind")
    if kind is not None and kind.value in MOVING_STEPS and kind.value != REPROJECTION:
        return Stance.KEEPS if kind.can_prove else Stance.SILENT
    return _find_stance(process, _POSITIONS, (REPROJECTION,))


def _find_stance(process: Process, names: tuple[str, ...], moving: tuple[str, ...]) -> Stance:
    """Return what a process says; a kind of step that was only assumed says nothing."""
    if any(process.find_value(name) is not None for name in names):
        return Stance.SETTLES
    kind = process.find_value("kind")
    if kind is None:
        return Stance.SILENT
    if kind.value in moving:
        return Stance.SETTLES
    return Stance.KEEPS if kind.value in KEEPING_STEPS and kind.can_prove else Stance.SILENT
