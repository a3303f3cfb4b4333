"""The profiles of the USGS Lidar Base Specification against the document.

USGS 3DEP Lidar Base Specification 2025 rev. A: tables 1, 2, 4 and 5, "Collection Requirements" and
the history of changes.
"""

from __future__ import annotations

import math
from decimal import ROUND_HALF_UP, Decimal

import pytest
from published_profiles import EDITIONS, LEVELS, PROFILES, find, say, states

from ledger.model.document import Known


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
