"""Mistakes that move a whole cloud: each has to be told by its name, by checkpoints alone."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

import numpy as np
from made_geoid import write_geoid
from planted import METRES, Look, Planted

from ledger.contract.check import Finding
from ledger.model.artefact import FileRecord
from ledger.model.known import KnownValue
from ledger.model.process import Card
from ledger.testing import Layout, Scene, SurveyBuilder, make_table, run_check, spread_points
from lidar_checks.ground.named_cause import NamedCause

_SCENE = Scene(columns=2, rows=2, density=16.0, relief=0.2, noise=0.005)
# The middle of the scene, degrees; its geoid is made up.
_PLACE = (-80.999, 28.025)
_GEOID_M, _OTHER_M = -27.4, -27.05
_ANTENNA_M, _ARM_M = 1.923, 0.231
_VALUES = {
    "flight.takeoff": "2026-05-12T14:00:00Z",
    "flight.base_height_kind": "vertical",
    "flight.rig": "G1",
    "flight.position_source": "aircraft receiver",
}
_ARM = {
    "rig.lever_arm_aircraft": KnownValue(["0.112", "0.004", str(_ARM_M)], "m"),
    "rig.lever_arm_convention": KnownValue("forward-right-down"),
}


def _make_card(name: str, values: dict[str, KnownValue]) -> Card:
    return Card(name, "", 1, "2026-05-12T15:00:00Z", "pilot", values)


def _audit(folder: Path, move: Callable[[SurveyBuilder], object]) -> Iterable[Finding]:
    """Check a survey of a job with a geoid, another one, an antenna height and a lever arm."""
    survey = SurveyBuilder(folder / "out", Layout(), _SCENE)
    move(survey)
    geoids = [
        write_geoid(folder / "geoid" / f"{name}.gtx", _PLACE, height)
        for name, height in (("here", _GEOID_M), ("old", _OTHER_M))
    ]
    flight = {key: KnownValue(value) for key, value in _VALUES.items()}
    flight["flight.base_height"] = KnownValue(str(_ANTENNA_M), "m")
    return run_check(
        NamedCause(),
        survey,
        METRES,
        tables=(make_table(spread_points(_SCENE, count=14, noise=0.005)),),
        geoid_sha256=geoids[0].sha256,
        geoid_grid=geoids[0].path,
        geoids={each.sha256: each for each in geoids},
        registered={
            each.sha256: FileRecord(Path(each.path).name, each.sha256, 1, 1, "geoid")
            for each in geoids
        },
        flights=(_make_card("F1", flight),),
        rigs=(_make_card("G1", _ARM),),
    )


def _look(move: Callable[[SurveyBuilder], object]) -> Look:
    return lambda folder: _audit(folder, move)


def _raise(survey: SurveyBuilder, by: float) -> None:
    for path in survey.paths:
        survey.shift_heights(path.name, by)


def _scale(survey: SurveyBuilder, factor: float) -> None:
    for path in survey.paths:
        z = survey.tile(path.name).points["z"].astype(np.float64)
        survey.set_field(path.name, "z", z * factor)


def _move(fault: str, metres: float, *ids: str) -> Planted:
    """Return a case of a cloud that lies wrong by a predicted length, against one 1.5 cm off."""
    return Planted(
        NamedCause.id,
        fault,
        _look(lambda survey: _raise(survey, metres)),
        _look(lambda survey: _raise(survey, 0.015 if metres > 0 else -0.015)),
        f"{metres:+.3f} m against {0.015 if metres > 0 else -0.015:+.3f} m",
        ids,
    )


def _plant(fault: str, beyond: Any, inside: Any, gate: str, *ids: str) -> Planted:
    return Planted(NamedCause.id, fault, _look(beyond), _look(inside), gate, ids)


CASES = (
    _move("ellipsoidal heights delivered", _GEOID_M, "VD-01"),
    _move("the geoid taken off twice", -_GEOID_M, "VD-02"),
    _move("the geoid added for taken off", 2 * _GEOID_M, "VD-03"),
    _move("another registered geoid used", _GEOID_M - _OTHER_M, "VD-04"),
    _move("the antenna height left out", -_ANTENNA_M, "GN-02"),
    _move("the lever arm with the wrong sign", 2 * _ARM_M, "MB-03"),
    _plant(
        "heights in feet",
        lambda survey: _scale(survey, 1 / 0.3048),
        lambda survey: _scale(survey, 1.0),
        "times 3.2808 against times 1",
        "UN-03",
    ),
)
