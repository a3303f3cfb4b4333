"""What a process that works on what others made says of heights: changed, left alone, or nothing.

That a cleaning or a tiling leaves every kept point where it was is common practice, no source.
"""

from __future__ import annotations

from enum import Enum

from ledger.model.fields import KEEPING_STEPS, MOVING_STEPS
from ledger.model.process import Process

NO_GEOID = "none"
_NAMES = ("input_height_type", "output_height_type", "geoid_name")


class Stance(Enum):
    """What a process says of heights."""

    SETTLES = "settles"
    KEEPS = "keeps"
    SILENT = "silent"


def find_stance(process: Process) -> Stance:
    """Return what a process on what others made says of heights.

    A kind of step that was only assumed says nothing.
    """
    if any(process.find_value(name) is not None for name in _NAMES):
        return Stance.SETTLES
    kind = process.find_value("kind")
    if kind is None:
        return Stance.SILENT
    if kind.value in MOVING_STEPS:
        return Stance.SETTLES
    return Stance.KEEPS if kind.value in KEEPING_STEPS and kind.can_prove else Stance.SILENT
