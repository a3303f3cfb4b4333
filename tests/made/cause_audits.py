"""Surveys in files with one mistake each, and the records that name it: through a whole audit."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from made_geoid import write_geoid
from planted import METRES

from ledger.contract.check import Finding
from ledger.model.artefact import FileRecord
from ledger.model.known import KnownValue
from ledger.model.process import Card
from ledger.testing import Layout, Scene, SurveyBuilder, make_table, run_check, spread_points
from lidar_checks.ground.named_cause import NamedCause

# The middle of the scene of the kit, degrees.
_PLACE = (-80.999, 28.025)
_FLIGHT = {
    "flight.takeoff": "2026-05-12T14:00:00Z",
    "flight.base_height_kind": "vertical",
    "flight.rig": "G1",
    "flight.position_source": "aircraft receiver",
}

Move = Callable[[SurveyBuilder], object]


@dataclass(frozen=True)
class Setting:
    """What the records of a job say, and how it was surveyed; all invented.

    Args:
        geoid_m: height of the geoid of the job.
        other_m: height of another registered geoid.
        antenna_m: height of the base antenna.
        arm_m: vertical lever arm.
        checkpoints: how many.
        noise_m: of their survey.
        seed: of their places.
    """

    geoid_m: float = -27.4
    other_m: float = -27.05
    antenna_m: float = 1.923
    arm_m: float = 0.231
    checkpoints: int = 14
    noise_m: float = 0.005
    seed: int = 7


def make_setting(seed: int) -> Setting:
    """Return a setting with numbers by chance."""
    random = np.random.default_rng(seed)
    geoid = float(random.uniform(-50, 50))
    return Setting(
        geoid_m=geoid,
        other_m=geoid + float(random.choice([-1, 1]) * random.uniform(0.12, 0.9)),
        antenna_m=round(float(random.uniform(1.0, 2.2)), 3),
        arm_m=round(float(random.uniform(0.08, 0.4)), 3),
        checkpoints=int(random.integers(8, 24)),
        noise_m=float(random.uniform(0.003, 0.03)),
        seed=seed,
    )


def audit(folder: Path, move: Move, setting: Setting) -> tuple[Finding, ...]:
    """Fly, spoil and check a survey.

    Args:
        folder: an empty folder.
        move: what is done to the cloud.
        setting: the records.
    """
    scene = Scene(columns=2, rows=2, density=16.0, relief=0.2, noise=0.005)
    survey = SurveyBuilder(folder / "out", Layout(), scene)
    move(survey)
    geoids = [
        write_geoid(folder / "geoid" / f"{name}.gtx", _PLACE, height)
        for name, height in (("here", setting.geoid_m), ("old", setting.other_m))
    ]
    flight = {key: KnownValue(value) for key, value in _FLIGHT.items()}
    flight["flight.base_height"] = KnownValue(str(setting.antenna_m), "m")
    arm = {
        "rig.lever_arm_aircraft": KnownValue(["0.112", "0.004", str(setting.arm_m)], "m"),
        "rig.lever_arm_convention": KnownValue("forward-right-down"),
    }
    points = spread_points(scene, setting.checkpoints, noise=setting.noise_m, seed=setting.seed)
    return run_check(
        NamedCause(),
        survey,
        METRES,
        tables=(make_table(points),),
        geoid_sha256=geoids[0].sha256,
        geoid_grid=geoids[0].path,
        geoids={each.sha256: each for each in geoids},
        registered={
            each.sha256: FileRecord(Path(each.path).name, each.sha256, 1, 1, "geoid")
            for each in geoids
        },
        flights=(_make_card("F1", flight),),
        rigs=(_make_card("G1", arm),),
    )


def _make_card(name: str, values: dict[str, KnownValue]) -> Card:
    return Card(name, "", 1, "2026-05-12T15:00:00Z", "pilot", values)


def raise_all(by: float) -> Move:
    """Return what lifts every tile, metres."""

    def move(survey: SurveyBuilder) -> None:
        for path in survey.paths:
            survey.shift_heights(path.name, by)

    return move


def scale_heights(factor: float) -> Move:
    """Return what stretches the heights of every tile."""

    def move(survey: SurveyBuilder) -> None:
        for path in survey.paths:
            z = survey.tile(path.name).points["z"].astype(np.float64)
            survey.set_field(path.name, "z", z * factor)

    return move


@dataclass(frozen=True)
class Spoilt:
    """A mistake that a survey in files can have.

    Args:
        fault: in a few words.
        find_rise: by how much it lifts the cloud, from the records; None for a stretch of heights.
        ids: what has to be told: the first ids of the catalogue.
    """

    fault: str
    find_rise: Callable[[Setting], float] | None
    ids: tuple[str, ...]

    def move(self, setting: Setting) -> Move:
        """Return what is done to the cloud."""
        if self.find_rise is None:
            return scale_heights(1 / 0.3048)
        return raise_all(self.find_rise(setting))


SPOILT = (
    Spoilt("ellipsoidal heights delivered", lambda s: s.geoid_m, ("VD-01",)),
    Spoilt("the geoid taken off twice", lambda s: -s.geoid_m, ("VD-02",)),
    Spoilt("the geoid added for taken off", lambda s: 2 * s.geoid_m, ("VD-03",)),
    Spoilt("another registered geoid used", lambda s: s.geoid_m - s.other_m, ("VD-04",)),
    Spoilt("the antenna height left out", lambda s: -s.antenna_m, ("GN-02",)),
    Spoilt("the lever arm with the wrong sign", lambda s: 2 * s.arm_m, ("MB-03",)),
    Spoilt("heights in feet", None, ("UN-03",)),
)
