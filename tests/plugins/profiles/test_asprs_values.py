"""The profiles of the ASPRS Positional Accuracy Standards against the document.

Edition 2, section 7.4; Edition 1 from memory.
"""

from __future__ import annotations

import math
from decimal import ROUND_HALF_UP, Decimal

import pytest
from published_profiles import CLASSES, PROFILES, find, say

from ledger.model.document import Known


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


def test_a_largest_difference_lets_no_patch_pass() -> None:
    """ASPRS limits the largest difference, so no share of the ground may step by more."""
    for size in CLASSES:
        for edition in ("asprs-1", "asprs-2"):
            name = f"{edition}-{size.replace('.', '-')}cm"
            share = find(name, "swath-step", "max_share_of_patches")
            assert share is None or share.value == 0
