"""The sentence that checkpoints bear out: its number, its words, and why there is none."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from ground_bench import draw, judge, make_residuals, make_tables
from statements import (
    CLEAN,
    CONTROL,
    EVEN,
    MANY,
    POINTS,
    WITHOUT_CONTROL,
    make_known,
    make_sentence,
    make_statement,
    tell_other,
)

from ledger.contract.check import Grade, Outcome
from ledger.model.jobrecords import JobRecords
from ledger.model.known import KnownBy, KnownValue
from ledger.model.process import Card
from lidar_checks.ground.accuracy_statement import AccuracyStatement
from lidar_checks.ground.checkpoint_count import SPREAD
from lidar_checks.ground.checkpoint_quality import NEIGHBOURHOOD
from lidar_checks.ground.residuals import Residual


def test_the_sentence_has_number_interval_day_and_limits() -> None:
    """All that a reader needs, and what may not be read into it."""
    found = make_sentence(EVEN)
    assert found.outcome is Outcome.CONFORMS
    for part in (
        "vertical RMSE 0.023 m (95 % interval 0.017 to 0.036 m; mean +0.002 m)",
        "14 independent checkpoints without vegetation",
        "surveyed 2026-05-12",
        "with fewer than 30 it is no full test by ASPRS Edition 2",
    ):
        assert part in found.sentence


FLIGHT = Card("F1", "", 2, "", "technician", {"flight.base_mark": KnownValue("QM1")})
APART = {"tables": make_tables(base="QM7"), "flights": (FLIGHT,)}
NSSDA = {"count_min": 20, "standard": "NSSDA", "at_95": True}


def test_the_words_of_a_test_at_95_percent() -> None:
    """FGDC-STD-007.3-1998, 3.2.3 and 3-A: 1.9600 x RMSE of 20 points or more, which cover the site.

    0.0451 is 1.96 times 0.023; no 95 % is said where the points are too few, ill spread, or of the
    flight's own base.
    """
    full = make_sentence(MANY, NSSDA, **APART).sentence
    assert "0.045 m vertical accuracy at 95 % confidence level (1.9600 x RMSE)" in full
    assert full.endswith("Tested by NSSDA.")
    narrow = tell_other("checkpoint-count", Grade.MINOR, subject=SPREAD)
    for points, parts, why in (
        (EVEN, {}, "fewer than 20 it is no full test by NSSDA"),
        (MANY, {"results": {**CLEAN, "checkpoint-count": narrow}}, "do not cover the whole site"),
        (MANY, {"tables": make_tables(base="QM1")}, "relative to the base of the flight"),
        (MANY, {"tables": make_tables()}, "no absolute accuracy"),
    ):
        told = make_sentence(points, NSSDA, **{**APART, **parts}).sentence
        assert told.startswith("You may state: tested, vertical RMSE 0.023 m")
        assert why in told
        assert "confidence level" not in told
        assert "Tested by" not in told


@pytest.mark.parametrize(
    ("east", "north", "told"),
    [
        (0.10, 0.10, "0.245 m horizontal accuracy at 95 %"),
        (0.10, 0.07, "0.208 m horizontal accuracy at 95 %"),
        (0.10, 0.06, "0.196 m horizontal accuracy at 95 %"),
        (0.10, 0.05, "no radius at 95 %"),
    ],
)
def test_the_radius_at_95_percent_in_the_sentence(east: float, north: float, told: str) -> None:
    """2.4477 x 0.5 x (RMSE x + RMSE y) from a ratio of 0.6 on (FGDC-STD-007.3-1998, 3-A.1).

    0.24477 is also 1.7308 x RMSE r where both axes are alike; the others were worked out by hand.
    """
    signs = [1 if number % 2 else -1 for number in range(len(MANY))]
    turned = [1 if number % 4 < 2 else -1 for number in range(len(MANY))]
    points = tuple(
        replace(each, dx=east * s, dy=north * t)
        for each, s, t in zip(MANY, signs, turned, strict=True)
    )
    # Means that are zero on all axes are those of points that something was fitted to.
    points = (replace(points[0], dx=-(points[0].dx or 0.0)), *points[1:])
    assert told in make_sentence(points, NSSDA, **APART).sentence
    assert "In plan: RMSE" in make_sentence(points, None, **APART).sentence
    assert "95 % confidence" not in make_sentence(points, None, **APART).sentence


def test_the_sentence_says_that_a_base_is_shared() -> None:
    """Absolute accuracy is not what such points show."""
    found = make_sentence(EVEN, tables=make_tables(base="QM1"), flights=(FLIGHT,))
    assert "relative to the base of the flight" in found.sentence


def test_no_interval_beside_a_bias_larger_than_the_spread() -> None:
    """Chi-square is of errors without one; up to the spread its limits are only a little wide."""
    assert "95 % interval 0.017 to 0.036 m; mean +0.015 m" in make_sentence(POINTS).sentence
    off = make_residuals(draw(14, 0.023, 0.018), stratum="bare")
    told = make_sentence(off).sentence
    assert "vertical RMSE 0.023 m (no interval: the bias is larger than the spread" in told
    assert "mean +0.018 m" in told


CARRIED = KnownValue("EPSG:6346", known_by=KnownBy.CARRIED, confirmed=False)
SILENT = replace(WITHOUT_CONTROL, values={})
UNNAMED = replace(CONTROL, inputs=())
MIXED = (replace(EVEN[0], stratum=""), *EVEN[1:])


@pytest.mark.parametrize(
    ("points", "parts", "why"),
    [
        ((), {}, "there are no checkpoints"),
        (make_residuals([None] * 9), {}, "gives a height"),
        (EVEN[:4], {}, "4 independent checkpoints are too few, 5 is the least"),
        (EVEN, {"processes": (CONTROL,)}, "every checkpoint was control"),
        (EVEN, {"tables": make_tables(horizontal=CARRIED)}, "nobody confirmed"),
        (EVEN, {"processes": ()}, "no run behind this delivery is on record"),
        (EVEN, {"processes": (SILENT,)}, "nobody recorded whether R1 used control"),
        (EVEN, {"processes": (UNNAMED,)}, "R1 used control and no table of it is on record"),
        (MIXED, {}, "nobody said what ground 1 of 14 checkpoints stands on"),
        (EVEN, {"results": {}}, "nobody looked for what the residuals have in common"),
    ],
)
def test_the_sentence_is_refused(
    points: tuple[Residual, ...], parts: dict[str, Any], why: str
) -> None:
    """No accuracy where nothing bears one out, and why."""
    found = make_sentence(points, **parts)
    assert found.outcome is Outcome.INCONCLUSIVE
    assert found.sentence.startswith("No accuracy may be stated: ")
    assert why in found.sentence
    assert found.remedy


@pytest.mark.parametrize(
    ("check", "grade", "why"),
    [
        ("vertical-accuracy", Grade.MAJOR, "vertical-accuracy is broken"),
        ("horizontal-accuracy", Grade.MAJOR, "horizontal-accuracy is broken"),
        ("named-cause", Grade.MAJOR, "the residuals carry a mistake, see named-cause"),
        ("named-cause", Grade.MINOR, "the residuals carry a mistake, see named-cause"),
        ("checkpoint-outliers", Grade.MINOR, "C01 and C02: see checkpoint-outliers"),
    ],
)
def test_no_sentence_beside_a_mistake_that_is_known(check: str, grade: Grade, why: str) -> None:
    """A limit that is broken, a cause that is named and heights that are exchanged come first.

    A number that a report states then is not borne out either, though it is what the points give.
    """
    found = tell_other(check, grade, subject="C01 and C02", remedy="mend it")
    results = {**CLEAN, check: found}
    assert why in make_sentence(EVEN, results=results).sentence
    evidence = make_known(job=JobRecords(statements=(make_statement("0.023"),)), results=results)
    claim = judge(AccuracyStatement(), EVEN, None, evidence)[1]
    assert claim.outcome is Outcome.INCONCLUSIVE
    assert why in claim.sentence


def test_what_nobody_recorded_stands_behind_what_is_wrong() -> None:
    """A broken limit and a named cause are the reason; that no run is on record comes after."""
    broken = tell_other("vertical-accuracy", Grade.MAJOR, subject="delivery", remedy="mend it")
    cause = tell_other("named-cause", Grade.MINOR, subject="delivery", remedy="mend it")
    results = {**CLEAN, "vertical-accuracy": broken, "named-cause": cause}
    told = make_sentence(EVEN, results=results, processes=()).sentence
    first, _, beside = told.partition(". What is missing beside that: ")
    assert "vertical-accuracy is broken" in first
    assert first.endswith("see named-cause")
    assert beside.startswith("no run behind this delivery is on record")


@pytest.mark.parametrize(
    ("check", "subject", "told"),
    [
        ("named-cause", "delivery", "nothing on record explains its mean"),
        ("checkpoint-outliers", "C07", "C07 lies off alone and in it"),
        ("checkpoint-count", SPREAD, "the points do not cover the whole site"),
        ("checkpoint-quality", NEIGHBOURHOOD, "neighbouring points are off alike"),
    ],
)
def test_what_is_no_reason_to_refuse_is_told(check: str, subject: str, told: str) -> None:
    """An observation stands beside the number."""
    results = {**CLEAN, check: tell_other(check, Grade.OBSERVATION, subject=subject)}
    found = make_sentence(EVEN, results=results).sentence
    assert found.startswith("You may state: ")
    assert told in found
    assert told not in make_sentence(EVEN).sentence
