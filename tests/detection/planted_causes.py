"""Mistakes that move a whole cloud: each has to be told by its name, by checkpoints alone."""

from __future__ import annotations

from cause_audits import SPOILT, Setting, Spoilt, audit, raise_all, scale_heights
from planted import Look, Planted

from lidar_checks.ground.named_cause import NamedCause

_SETTING = Setting()
# Less than an offset that is looked into.
_SMALL_M = 0.015


def _look(spoilt: Spoilt, *, small: bool) -> Look:
    if not small:
        move = spoilt.move(_SETTING)
    elif spoilt.find_rise is None:
        move = scale_heights(1.0)
    else:
        move = raise_all(_SMALL_M if spoilt.find_rise(_SETTING) > 0 else -_SMALL_M)
    return lambda folder: audit(folder, move, _SETTING)


def _tell_gate(spoilt: Spoilt) -> str:
    if spoilt.find_rise is None:
        return "times 3.2808 against times 1"
    rise = spoilt.find_rise(_SETTING)
    return f"{rise:+.3f} m against {_SMALL_M if rise > 0 else -_SMALL_M:+.3f} m"


CASES = tuple(
    Planted(
        NamedCause.id,
        spoilt.fault,
        _look(spoilt, small=False),
        _look(spoilt, small=True),
        _tell_gate(spoilt),
        spoilt.ids,
    )
    for spoilt in SPOILT
)
