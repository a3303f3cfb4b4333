"""How well and when checkpoints were surveyed, in what system, and what they leave untold."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from ground_bench import draw, judge, look, make_ground, make_residuals, make_site, make_tables

from ledger.contract.check import Finding, Grade, Outcome
from ledger.contract.evidence import Evidence
from ledger.model.known import KnownBy, KnownValue
from ledger.model.process import Card
from ledger.testing import drive_check
from lidar_checks.ground.blind_areas import BlindAreas
from lidar_checks.ground.checkpoint_quality import CheckpointQuality
from lidar_checks.ground.checkpoint_systems import CheckpointSystems
from lidar_checks.ground.flown import Flown
from lidar_checks.ground.residuals import Residual
from lidar_checks.ground.strata import find_stratum

TAKEOFF = KnownValue("2026-05-14T09:00:00Z")
FLIGHT = Card("F1", "", 2, "2026-05-14T12:00:00Z", "technician", {"flight.takeoff": TAKEOFF})
FLOWN = make_ground(flights=(FLIGHT,))


def surveyed(sigma: float | None = 0.01, day: str = "2026-05-12") -> tuple[Residual, ...]:
    """Return checkpoints of one day and one quality."""
    return make_residuals(draw(14, 0.02), sigma_vertical_m=sigma, surveyed=day)


@pytest.mark.parametrize(
    ("sigma", "times", "is_poor"),
    # 0.050 m asked for: at most 0.025 m by Edition 2, 0.0167 m by Edition 1.
    [(0.025, 2.0, False), (0.0252, 2.0, True), (0.0166, 3.0, False), (0.0168, 3.0, True)],
)
def test_survey_against_the_claim(sigma: float, times: float, is_poor: bool) -> None:
    """Checkpoints have to be twice, or three times, better than what they test."""
    asked = {"rmse_max_m": 0.05, "times_better_min": times}
    found = judge(CheckpointQuality(), surveyed(sigma), asked, FLOWN)[0]
    assert found.grade is (Grade.MINOR if is_poor else None)


def test_the_limit_of_another_check_is_taken() -> None:
    """What job.toml asks of vertical-accuracy counts here where nothing else is stated."""
    stated = {"criteria": {"vertical-accuracy": {"rmse_max_m": 0.03}}}
    evidence = make_ground(specification=stated, flights=(FLIGHT,))
    found = judge(CheckpointQuality(), surveyed(0.02), evidence=evidence)[0]
    assert found.grade is Grade.OBSERVATION
    assert "0.028 m" in found.sentence  # 0.02 and 0.02 by squares
    none = judge(CheckpointQuality(), surveyed(0.02), evidence=FLOWN)[0]
    assert none.outcome is Outcome.NOT_ASSESSED


def test_an_unstated_error_is_no_pass() -> None:
    """One point without a standard deviation leaves the quality open."""
    points = (replace(surveyed()[0], sigma_vertical_m=None), *surveyed()[1:])
    found = judge(CheckpointQuality(), points, {"rmse_max_m": 0.05}, FLOWN)[0]
    assert found.outcome is Outcome.NOT_ASSESSED
    assert "1 checkpoint " in found.sentence


@pytest.mark.parametrize(
    ("day", "grade"),
    [
        ("2026-04-30", None),
        ("2026-04-29", Grade.OBSERVATION),
        ("2026-05-28T10:00:00Z", None),
        ("2026-05-29", Grade.OBSERVATION),
    ],
)
def test_days_between_survey_and_flight(day: str, grade: Grade | None) -> None:
    """14 days before or after the flight of 14 May are near enough, 15 are not."""
    found = judge(CheckpointQuality(), surveyed(day=day), {"rmse_max_m": 0.05}, FLOWN)[1]
    assert found.grade is grade


@pytest.mark.parametrize(("day", "evidence"), [("", FLOWN), ("2026-05-12", make_ground())])
def test_days_that_nobody_says(day: str, evidence: Evidence) -> None:
    """Without either day nothing is known."""
    found = judge(CheckpointQuality(), surveyed(day=day), {"rmse_max_m": 0.05}, evidence)[1]
    assert found.outcome is Outcome.NOT_ASSESSED


def systems(job: dict[str, Any], **declared: Any) -> tuple[Finding, ...]:
    """Return what is said of a declared table."""
    stated = {"coordinates": {"vertical": "orthometric", "epoch": 2010.0, **job}}
    evidence = make_ground(specification=stated, tables=make_tables(**declared))
    return drive_check(CheckpointSystems(), evidence)


GEOID = {"geoid": {"name": "model-A", "version": "1"}}


@pytest.mark.parametrize(
    ("job", "declared", "grade"),
    [
        ({}, {}, None),
        ({}, {"vertical": "ellipsoidal"}, Grade.MAJOR),
        ({"vertical": "ellipsoidal"}, {"vertical": "ellipsoidal"}, None),
        (GEOID, {"geoid": "model-B"}, Grade.MINOR),
        (GEOID, {"geoid": "Model-A 1"}, None),
        ({}, {"epoch": "2026.4"}, Grade.MINOR),
        ({}, {"epoch": "2010.0"}, None),
        ({}, {"unit_horizontal": "us-survey-foot"}, None),
    ],
)
def test_declared_systems(
    job: dict[str, Any], declared: dict[str, str], grade: Grade | None
) -> None:
    """Heights of another kind, geoid or epoch test nothing; another unit is converted exactly."""
    assert [each.grade for each in systems(job, **declared)] == [grade]


@pytest.mark.parametrize("name", ["horizontal", "vertical", "unit_horizontal", "unit_vertical"])
def test_a_blank_declaration_is_no_pass(name: str) -> None:
    """What nobody declared is named, with how to."""
    (found,) = systems({}, **{name: ""})
    assert found.outcome is Outcome.NOT_ASSESSED
    assert "record points" in found.remedy
    (carried,) = systems({}, **{name: KnownValue("metre" if "unit" in name else "orthometric",
                                             known_by=KnownBy.ASSUMED)})  # fmt: skip
    assert carried.outcome is Outcome.INCONCLUSIVE


def covered(*paths: str, sources: tuple[int, ...] = (), minutes: tuple[int, ...] = ()) -> Residual:
    """Return a checkpoint that lies in these files."""
    (point,) = make_residuals([0.01])
    beside = 5.0 * TILES.index(paths[0])  # each at a place of its own
    return replace(
        point, east_m=point.east_m + beside, files=paths, source_ids=sources, minutes=minutes
    )


TILES = tuple(file.path for file in make_site())


@pytest.mark.parametrize(
    ("count", "asked", "grade"),
    [
        (2, {}, None),
        (1, {}, Grade.OBSERVATION),
        (3, {"tiles_share_max": 0.25}, None),
        (2, {"tiles_share_max": 0.25}, Grade.MINOR),
    ],
)
def test_tiles_without_a_checkpoint(
    count: int, asked: dict[str, float], grade: Grade | None
) -> None:
    """They are always named; more than half is worth knowing, more than asked for minor."""
    points = [covered(path) for path in TILES[:count]]
    findings, figures = look(BlindAreas(), points, asked)
    assert [each.grade for each in findings] == [grade]
    assert figures[0].listed == TILES[count:]
    assert figures[0].value == str(4 - count)


def test_a_point_without_a_height_covers_nothing() -> None:
    """A checkpoint at which the cloud has no height tells nothing of its tile."""
    points = [replace(covered(path), dz=None) for path in TILES]
    assert look(BlindAreas(), points)[1][0].listed == TILES


def test_strips_and_minutes_without_a_checkpoint() -> None:
    """Strips by their ids, minutes as spans of the seconds that the files hold."""
    points = [covered(TILES[0], sources=(1, 2), minutes=(5900, 5903))]
    flown = Flown(frozenset({0, 1, 2, 3}), frozenset(range(5900, 5906)))
    figures = {each.name: each for each in look(BlindAreas(), points, flown=flown)[1]}
    assert figures["strips-without-checkpoint"].listed == ("3",)
    minutes = figures["minutes-without-checkpoint"]
    assert minutes.listed == ("354060 to 354180", "354240 to 354360")
    assert (minutes.value, minutes.count) == ("4", 6)


def test_minutes_in_utc_where_the_times_are_adjusted() -> None:
    """Adjusted second 402497018 is 2024-06-15T14:30:00Z, 18 leap seconds taken off.

    402497018 = 1402497018 - 1e9; GPS second 1402497018 by hand: 16232 days since 1980-01-06 at
    86 400 s, and 14 h 30 min, and 18 s (IERS Bulletin C 52).
    """
    assert 16232 * 86_400 + 14 * 3600 + 30 * 60 + 18 == 1_402_497_018
    tiles = tuple(
        replace(file, header=replace(file.header, global_encoding=17))
        for file in make_site()
        if file.header is not None
    )
    minute = 402_497_018 // 60
    flown = Flown(frozenset({1}), frozenset({minute, minute + 2}))
    point = covered(TILES[0], minutes=(minute + 2,))
    figures = look(BlindAreas(), [point], None, make_ground(tiles), flown)[1]
    (span,) = figures[-1].listed
    begin = 402_497_018 - 402_497_018 % 60 - 402_497_018
    assert begin == -38
    assert span == "2024-06-15 14:29:22 to 14:30:22"


def test_strips_and_minutes_that_nobody_numbered() -> None:
    """One id for all, or times that are no clock's, are no strips and no minutes."""
    for flown in (Flown(frozenset({0, 7})), Flown(frozenset({4}), None)):
        figures = look(BlindAreas(), [covered(*TILES)], flown=flown)[1]
        assert [each.name for each in figures] == ["tiles-without-checkpoint"]
        assert figures[0].sentence == "Every tile holds a checkpoint."


@pytest.mark.parametrize(
    ("words", "stratum"),
    [
        ("nonvegetated", "nonvegetated"),
        ("vegetated", "vegetated"),
        ("NVA", "nonvegetated"),
        ("Open ground", "nonvegetated"),
        ("low_grass", "nonvegetated"),
        ("tall grass", "vegetated"),
        ("brush/short trees", "vegetated"),
        ("grass", ""),
        ("A-3", ""),
        ("", ""),
    ],
)
def test_words_for_the_ground(words: str, stratum: str) -> None:
    """USGS LBS 2025 rev. A sorts land covers into two groups; other words say neither."""
    assert find_stratum(words) == stratum
