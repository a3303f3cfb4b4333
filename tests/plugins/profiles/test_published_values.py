"""What holds for every profile, and the numbers of the smaller ones against their documents.

FGDC-STD-007.3-1998; the Japanese rules for UAV laser surveys of 2025, articles 444 to 467. Those of
the other profiles stand in modules of their own.
"""

from __future__ import annotations

import pytest
from published_profiles import CLASSES, EDITIONS, LEVELS, PROFILES, find, say

from ledger.audit.criteria import settle_checks
from ledger.contract.registry import build_registry
from ledger.model.audit import Source
from ledger.specfile.reading import read_leniently


def test_every_edition_and_level_is_there() -> None:
    """Four editions with four levels, ten classes of two editions, and the others."""
    expected = {f"{edition}-{level}" for edition in EDITIONS for level in LEVELS}
    for edition in ("asprs-1", "asprs-2"):
        expected |= {f"{edition}-{size.replace('.', '-')}cm" for size in CLASSES}
    expected |= {"fgdc-nssda"}
    expected |= {f"gsi-2025-uav-laser-{name}" for name in ("ground", "level-500", "level-1000")}
    assert set(PROFILES) == expected


def test_every_profile_names_only_checks_and_fields_that_there_are() -> None:
    """A check or a criterion that is renamed takes its profiles with it."""
    registry = build_registry()
    assert not registry.faults
    models = {each.check.id: each.check.criteria for each in registry.checks}
    for profile in PROFILES.values():
        for check, fields in profile.criteria.items():
            assert check in models, (profile.id, check)
            assert set(fields) <= set(models[check].model_fields), (profile.id, check)


def test_every_check_takes_the_values_of_every_profile() -> None:
    """No model of a check refuses what a profile states for it, and all of it is applied."""
    registry = build_registry()
    for name, profile in PROFILES.items():
        reading = read_leniently(f'[criteria]\nprofile = "{name}"\n'.encode())
        settled = settle_checks(registry, reading.specification, reading.faults)
        reading.faults.require_none()
        assert not settled.faults, (name, settled.faults)
        applied = {
            (facts.id, each.field): each.clause
            for facts in settled.facts
            for each in facts.criteria
            if each.source is Source.PROFILE
        }
        assert applied == {
            (check, field): clause.clause
            for check, fields in profile.criteria.items()
            for field, clause in fields.items()
        }


def test_the_nssda_has_no_threshold() -> None:
    """It says how to test and report, and leaves thresholds to the customer (3.1.2)."""
    criteria = PROFILES["fgdc-nssda"].criteria
    assert set(criteria) == {"checkpoint-count", "accuracy-statement"}
    values = {name: each.value for name, each in criteria["checkpoint-count"].items()}
    assert values == {"count_min": 20, "quadrant_share_min": 0.2, "spacing_share_min": 0.1}
    # The words of a test are written now; those of data that nobody tested are not.
    assert criteria["accuracy-statement"]["at_95"].value is True
    assert "compiled to meet" in say("fgdc-nssda")


@pytest.mark.parametrize(
    ("level", "density"), [("ground", 10), ("level-1000", 100), ("level-500", 400)]
)
def test_japanese_densities(level: str, density: float) -> None:
    """Article 444: 10 to 100 points/m² for ground products; 100 and 400 for maps."""
    stated = find(f"gsi-2025-uav-laser-{level}", "point-density", "min_pts_per_m2")
    assert stated is not None
    assert (stated.value, stated.clause[:8]) == (density, "art. 444")
    told = say(f"gsi-2025-uav-laser-{level}")
    for part in ("6 months", "80 %", "two frequencies", "PDOP of at most 3", "within 0.3 m"):
        assert part in told


def test_japanese_bases() -> None:
    """Articles 448 and 454: logged every second or oftener, within 50 km; both are tested."""
    for check, field, value in (("base-epochs", "max_interval_s", 1), ("base-place", "max_km", 50)):
        stated = find("gsi-2025-uav-laser-ground", check, field)
        assert stated is not None
        assert stated.value == value


def test_an_overlap_of_widths_is_no_share_of_ground() -> None:
    """Lines that overlap by 30 % of their width see more than 30 % of the ground twice.

    In the middle of a block the ground seen twice is p / (1 - p): 43 % for 30 %.
    """
    assert round(0.3 / (1 - 0.3), 2) == 0.43
    for level in ("ground", "level-500", "level-1000"):
        name = f"gsi-2025-uav-laser-{level}"
        assert find(name, "swath-overlap", "min_share") is None
        assert "overlap by 30 % of their width" in say(name)


def test_what_is_from_memory_is_marked() -> None:
    """Nothing recalled is a criterion but four: each decides nothing until it is confirmed."""
    recalled = {
        (check, field, profile.id.rpartition("-")[0][:7])
        for profile in PROFILES.values()
        for check, fields in profile.criteria.items()
        for field, clause in fields.items()
        if clause.is_recalled
    }
    assert recalled == {
        ("point-density", "min_pts_per_m2", "asprs-1"),
        ("point-flags", "overlap_flag", "usgs-lb"),
        ("vertical-accuracy", "mean_share_max", "asprs-1"),
        ("vertical-accuracy", "vegetated_p95_max_m", "usgs-lb"),
    }


def test_no_point_comes_twice_and_decimals_are_limited() -> None:
    """History of changes: duplicates prohibited from v1.3, decimals limited from 2023 rev. A.

    The Japanese rules give a cloud's coordinates to 0.001 m (art. 445).
    """
    for edition in EDITIONS:
        share = find(f"{edition}-ql2", "duplicates", "max_share")
        assert share is not None
        assert share.value == 0
        step = find(f"{edition}-ql2", "coordinate-lattice", "step_max_m")
        assert (step is None) is (edition == "usgs-lbs-1-3")
        assert step is None or step.value == 0.01
    step = find("gsi-2025-uav-laser-ground", "coordinate-lattice", "step_max_m")
    assert step is not None
    assert step.value == 0.001
