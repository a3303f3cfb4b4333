"""Every number of the profile files against the document it stands for.

The tables below are typed from the documents, not from the files: USGS 3DEP Lidar Base
Specification 2025 rev. A, tables 1, 2, 4 and 5, "Collection Requirements" and the history of
changes; ASPRS Positional Accuracy Standards, Edition 2, section 7.4, and Edition 1 from memory;
FGDC-STD-007.3-1998; the Japanese rules for UAV laser surveys of 2025, articles 444 to 467.
"""

from __future__ import annotations

import math
from decimal import ROUND_HALF_UP, Decimal

import pytest

from ledger.audit.criteria import settle_checks
from ledger.contract.profile import Clause, Profile
from ledger.contract.registry import build_registry
from ledger.model.audit import Source
from ledger.model.document import Known
from ledger.specfile.reading import read_leniently
from lidar_checks.profiles.files import list_profiles

EDITIONS = ("usgs-lbs-1-3", "usgs-lbs-2023a", "usgs-lbs-2024a", "usgs-lbs-2025a")

# Table 1: pulses per m² and spacing in m. Table 2: smooth surface and swath overlap, m. Table 4.
LEVELS = {
    "ql0": ("8.0", "0.35", "0.03", "0.04", "0.050"),
    "ql1": ("8.0", "0.35", "0.06", "0.08", "0.100"),
    "ql2": ("2.0", "0.71", "0.06", "0.08", "0.100"),
    "ql3": ("0.5", "1.41", "0.12", "0.16", "0.200"),
}

# ASPRS classes, cm: largest step within a swath, RMSD and largest step between swaths, cm.
CLASSES = {
    "1": ("0.6", "0.8", "1.6"),
    "2.5": ("1.5", "2.0", "4.0"),
    "5": ("3.0", "4.0", "8.0"),
    "10": ("6.0", "8.0", "16.0"),
    "15": ("9.0", "12.0", "24.0"),
    "20": ("12.0", "16.0", "32.0"),
    "33.3": ("20.0", "26.7", "53.3"),
    "66.7": ("40.0", "53.3", "106.7"),
    "100": ("60.0", "80.0", "160.0"),
    "333.3": ("200.0", "266.7", "533.3"),
}


def read_all() -> dict[str, Profile]:
    """Return every profile of the package by id."""
    found = tuple(list_profiles())
    assert not [each for each in found if isinstance(each, Exception)]
    return {each.id: each for each in found if isinstance(each, Profile)}


PROFILES = read_all()


def find(profile: str, check: str, field: str) -> Clause | None:
    """Return a value of a profile; None where it has none."""
    return PROFILES[profile].criteria.get(check, {}).get(field)


def say(profile: str) -> str:
    """Return all that a profile asks for beside its criteria, as one text."""
    return "\n".join(each.phrase for each in PROFILES[profile].not_tested)


def states(profile: str, check: str, field: str, number: str, words: str) -> bool:
    """Say whether a number is a criterion of a profile, or told as not tested."""
    clause = find(profile, check, field)
    if clause is not None:
        return Decimal(str(clause.value)) == Decimal(number)
    return words in say(profile)


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


def compute_spacing(density: str) -> Decimal:
    """Return the spacing of a density, to the two decimals of table 1 (glossary: 1/sqrt)."""
    spacing = 1 / Decimal(density).sqrt()
    return spacing.quantize(Decimal("0.01"), ROUND_HALF_UP)


@pytest.mark.parametrize("level", LEVELS)
def test_density_decides_and_spacing_is_rounded(level: str) -> None:
    """The spacing of table 1 is that of its density to two decimals, and never a criterion.

    Unrounded, 8 points/m² lie 0.3536 m apart: more than the 0.35 m of the same row.
    """
    density, spacing, *_ = LEVELS[level]
    assert compute_spacing(density) == Decimal(spacing)
    assert 1 / math.sqrt(float(density)) > float(spacing) or level == "ql2"
    for edition in EDITIONS:
        stated = find(f"{edition}-{level}", "point-density", "min_pts_per_m2")
        assert stated is not None
        assert Decimal(str(stated.value)) == Decimal(density)
        fields = {
            name
            for check, each in PROFILES[f"{edition}-{level}"].criteria.items()
            for name in each
            if check != "checkpoint-count"  # the spacing of those is another thing
        }
        assert not {name for name in fields if "spacing" in name}


def test_two_spacings_of_one_document_are_told() -> None:
    """The text says 0.70 m for QL2 and the table 0.71 m: the table counts, the clash is told."""
    for edition in EDITIONS:
        stated = find(f"{edition}-ql2", "point-density", "min_pts_per_m2")
        assert stated is not None
        assert "the text says 0.70 m, which is 2.04 points/m²" in stated.clause
    assert round(1 / 0.70**2, 2) == 2.04
    other = find("usgs-lbs-2025a-ql1", "point-density", "min_pts_per_m2")
    assert other is not None
    assert "text says" not in other.clause


@pytest.mark.parametrize("edition", EDITIONS)
@pytest.mark.parametrize("level", LEVELS)
def test_swaths_and_voids_are_those_of_the_tables(edition: str, level: str) -> None:
    """Table 2, and what is computed from the rounded spacing of table 1."""
    _, spacing, smooth, overlap, rmse = LEVELS[level]
    name = f"{edition}-{level}"
    void = str((4 * Decimal(spacing)) ** 2)
    assert states(name, "voids", "area_min_m2", void, f"no void of {void} m²")
    cell = str(2 * Decimal(spacing))
    assert states(name, "spatial-distribution", "cell_m", cell, f"cells of {cell} m")
    words = f"smooth ground of at most {smooth} m"
    assert states(name, "surface-thickness", "rmsd_max_m", smooth, words)
    words = f"neighbouring swaths of at most {overlap} m"
    assert states(name, "swath-step", "rmsd_max_m", overlap, words)
    patch = find(name, "surface-thickness", "cell_m")
    assert patch is None or patch.value == 2 * math.ceil(float(spacing))
    accuracy = find(name, "vertical-accuracy", "rmse_max_m")
    assert accuracy is not None
    assert Decimal(str(accuracy.value)) == Decimal(rmse)


def test_areas_and_cells_as_printed() -> None:
    """The derived numbers once more, as plain constants: (4 x ANPS)² and 2 x ANPS."""
    areas = {level: (4 * Decimal(row[1])) ** 2 for level, row in LEVELS.items()}
    assert areas == {
        "ql0": Decimal("1.9600"),
        "ql1": Decimal("1.9600"),
        "ql2": Decimal("8.0656"),
        "ql3": Decimal("31.8096"),
    }


@pytest.mark.parametrize("level", LEVELS)
def test_confidence_figures_and_vegetation_end_with_2024(level: str) -> None:
    """History of changes, 2024 rev. A: no 95 % figures, VVA reported only, 30 to 120 points."""
    for edition in EDITIONS[:2]:
        told = say(f"{edition}-{level}")
        figure = (Decimal("1.96") * Decimal(LEVELS[level][4])).quantize(Decimal("0.001"))
        stated = find(f"{edition}-{level}", "vertical-accuracy", "at_95_max_m")
        assert stated is not None
        assert Decimal(str(stated.value)) == figure
        grown = find(f"{edition}-{level}", "vertical-accuracy", "vegetated_p95_max_m")
        assert grown is not None
        assert grown.is_recalled
        assert find(f"{edition}-{level}", "checkpoint-count", "count_min") is None
        assert "120" not in told
    for edition in EDITIONS[2:]:
        told = say(f"{edition}-{level}")
        criteria = PROFILES[f"{edition}-{level}"].criteria["vertical-accuracy"]
        assert not {"at_95_max_m", "vegetated_p95_max_m"} & set(criteria)
        assert criteria["survey_error"].value == "required"
        least = find(f"{edition}-{level}", "checkpoint-count", "count_min")
        assert least is not None
        assert least.value == 30
        assert "no more than 120" in told


def test_the_overlap_flag_is_asked_for_and_then_forbidden() -> None:
    """History of changes: 2021 rev. A and later forbid it; that v1.3 asks for it is recalled."""
    for edition in EDITIONS:
        expected = "required" if edition == "usgs-lbs-1-3" else "forbidden"
        stated = find(f"{edition}-ql2", "point-flags", "overlap_flag")
        if stated is None:
            assert f"the overlap flag {expected}" in say(f"{edition}-ql2")
        else:
            assert stated.value == expected
            assert stated.is_recalled is (expected == "required")
            assert PROFILES[f"{edition}-ql2"].requires("point-flags") is not stated.is_recalled


def test_ignored_ground_is_20_and_the_geoid_changes() -> None:
    """History of changes: class 10 to 20 with v1.3; GEOID12B to GEOID18 with 2020 rev. A."""
    for edition in EDITIONS:
        told = say(f"{edition}-ql2")
        assert "17, 18, 20, 21" in told
        assert "10, " not in told.split("classes", 1)[1].split("wherever")[0]
        classes = find(f"{edition}-ql2", "classification", "required")
        assert classes is not None
        assert classes.value == [2]
        assert ("GEOID12B" in told) is (edition == "usgs-lbs-1-3")
        assert "GEOID18" in told


@pytest.mark.parametrize("size", CLASSES)
def test_asprs_classes_follow_the_rule(size: str) -> None:
    """Section 7.4: 0.60, 0.80 and 1.60 of the class, to the tenth of a centimetre printed."""
    within, rmsd, step = CLASSES[size]
    exact = {"33.3": "33.3333", "66.7": "66.6667", "333.3": "333.3333"}.get(size, size)
    for factor, printed in (("0.6", within), ("0.8", rmsd), ("1.6", step)):
        product = (Decimal(factor) * Decimal(exact)).quantize(Decimal("0.1"), ROUND_HALF_UP)
        assert product == Decimal(printed)
    for edition in ("asprs-1", "asprs-2"):
        name = f"{edition}-{size.replace('.', '-')}cm"
        metres = {key: Decimal(each) / 100 for key, each in (("r", rmsd), ("s", step))}
        words = "neighbouring swaths of"
        for field, key in (("rmsd_max_m", "r"), ("step_max_m", "s")):
            stated = find(name, "swath-step", field)
            assert stated is None or Decimal(str(stated.value)) == metres[key]
            assert stated is not None or words in say(name)
        assert find(name, "surface-thickness", "rmsd_max_m") is None
        largest = f"{(Decimal(within) / 100).normalize():f}"
        assert f"a largest difference of {largest}" in say(name)


@pytest.mark.parametrize("size", CLASSES)
def test_asprs_classes_limit_heights(size: str) -> None:
    """The class itself; in Edition 1 1.96 of it at 95 % and 3.00 of it in vegetation too."""
    metres = Decimal(size) / 100
    for edition in ("asprs-1", "asprs-2"):
        name = f"{edition}-{size.replace('.', '-')}cm"
        stated = {
            field: Decimal(str(clause.value))
            for field, clause in PROFILES[name].criteria["vertical-accuracy"].items()
            if field.endswith("_max_m")
        }
        assert stated.pop("rmse_max_m") == metres
        if edition == "asprs-2":
            assert not stated
            continue
        thirds = {"33.3": Decimal(1), "66.7": Decimal(2), "333.3": Decimal(10)}.get(size)
        exact = metres if thirds is None else thirds / 3
        printed = {"at_95_max_m": Decimal("1.96"), "vegetated_p95_max_m": Decimal(3)}
        for field, factor in printed.items():
            assert abs(stated[field] - factor * exact) <= Decimal("0.0005")  # 0.1 cm printed


def test_asprs_densities_are_from_memory() -> None:
    """Edition 1 suggests a density for each class; nobody has read it, so it asks for nothing."""
    for size in CLASSES:
        name = f"asprs-1-{size.replace('.', '-')}cm"
        density = find(name, "point-density", "min_pts_per_m2")
        assert density is not None
        assert density.known is Known.MEMORY
        assert not PROFILES[name].requires("point-density")
        assert find(name.replace("asprs-1", "asprs-2"), "point-density", "min_pts_per_m2") is None


def test_asprs_editions_differ_in_checkpoints_and_vegetation() -> None:
    """20 points and a percentile in Edition 1; 30 to 120 and a report only in Edition 2."""
    first, second = PROFILES["asprs-1-10cm"].criteria, PROFILES["asprs-2-10cm"].criteria
    assert first["checkpoint-count"]["count_min"].value == 20
    assert first["vertical-accuracy"]["vegetated_p95_max_m"].value == 0.3
    assert first["vertical-accuracy"]["at_95_max_m"].value == 0.196
    assert first["vertical-accuracy"]["survey_error"].value == "left out"
    assert first["checkpoint-quality"]["times_better_min"].value == 3.0
    assert second["checkpoint-count"]["count_min"].value == 30
    assert second["vertical-accuracy"]["survey_error"].value == "required"
    assert second["checkpoint-quality"]["times_better_min"].value == 2.0
    assert not {"vegetated_p95_max_m", "at_95_max_m"} & set(second["vertical-accuracy"])
    assert "10 per cent (5.7 degrees)" in say("asprs-1-10cm")
    assert round(math.degrees(math.atan(0.10)), 1) == 5.7


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


LAS_CONTENT = {
    "versions": ["1.4"],
    "point_formats": [6, 7, 8, 9, 10],
    "time_kind": "adjusted-standard",
    "wkt_versions": ["WKT1"],
    "geoid_in_vertical_name": True,
    "vertical_in_compound": True,
    "one_crs_record": True,
    "single_line_wkt": True,
    "forbidden_wkt_nodes": ["EXTENSION", "GEOID_MODEL"],
    "file_source_zero_for_tiles": True,
}
SINCE = {"same_unit": 1, "compressed": 1, "system_identifier": 2}


@pytest.mark.parametrize("edition", EDITIONS)
def test_las_content_of_each_edition(edition: str) -> None:
    """LAS content of 2025 rev. A, and its history: units 2022, LAZ 2023, identifiers 2024."""
    stated = PROFILES[f"{edition}-ql2"].criteria.get("las-content")
    since = {name: True for name, place in SINCE.items() if EDITIONS.index(edition) >= place}
    if stated is not None:
        assert {name: each.value for name, each in stated.items()} == {**LAS_CONTENT, **since}
    told = say(f"{edition}-ql2")
    assert ("point record formats 6 to 10" in told) is (stated is None)
    assert ("preferably one unit" in told) is (stated is None and "same_unit" in since)


def test_a_step_between_swaths_has_the_limit_of_its_level() -> None:
    """Interswath Consistency: 4 cm for QL0, 8 cm for QL1 and QL2; QL3 is taken likewise."""
    for edition in EDITIONS:
        for level, row in LEVELS.items():
            step = find(f"{edition}-{level}", "swath-step", "step_max_m")
            assert step is None or Decimal(str(step.value)) == Decimal(row[3])
            assert step is None or (step.known is Known.COMPUTED) is (level == "ql3")


def test_a_largest_difference_lets_no_patch_pass() -> None:
    """ASPRS limits the largest difference, so no share of the ground may step by more."""
    for size in CLASSES:
        for edition in ("asprs-1", "asprs-2"):
            name = f"{edition}-{size.replace('.', '-')}cm"
            share = find(name, "swath-step", "max_share_of_patches")
            assert share is None or share.value == 0


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
