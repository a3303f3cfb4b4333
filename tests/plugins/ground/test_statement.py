"""The sentence that checkpoints bear out, and the numbers that reports state."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from ground_bench import draw, judge, look, make_ground, make_residuals, make_tables
from scipy import stats

from ledger.contract.check import Finding, Grade, Outcome
from ledger.contract.evidence import Evidence
from ledger.contract.figures import require_figure
from ledger.model.jobrecords import JobRecords
from ledger.model.known import KnownBy, KnownValue
from ledger.model.process import Card, Decision, Input, Process
from lidar_checks.ground.accuracy_statement import AccuracyStatement
from lidar_checks.ground.checkpoint_count import SPREAD
from lidar_checks.ground.checkpoint_quality import NEIGHBOURHOOD
from lidar_checks.ground.residuals import Residual
from lidar_checks.ground.statement_grounds import JUDGES

# RMSE 0.023 m, mean 0.015 m: the spread with n - 1 is 0.0181 m.
POINTS = make_residuals(draw(14, 0.023, 0.015), surveyed="2026-05-12", stratum="bare")
EVEN = make_residuals(draw(14, 0.023, 0.002), surveyed="2026-05-12", stratum="bare")
MANY = make_residuals(draw(24, 0.023, 0.002), surveyed="2026-05-12", stratum="bare")

WITHOUT_CONTROL = Process(
    "R1", "run", "", 3, "", "technician", Decision.ACCEPTED, 3, "",
    {"run.control_used": KnownValue(value=False)},
)  # fmt: skip


def find(check: str, grade: Grade | None = None, **parts: Any) -> tuple[Finding, ...]:
    """Return what another check found: nothing wrong, or that."""
    outcome = Outcome.CONFORMS if grade is None else Outcome.NONCONFORMING
    told = {"subject": "delivery", "sentence": "So it is.", "observed": "1", **parts}
    return (Finding(check=check, outcome=outcome, grade=grade, **told),)


CLEAN = {name: find(name) for name in JUDGES}


def make_known(**parts: Any) -> Evidence:
    """Return evidence of a run without control, in which the other checks found nothing."""
    return make_ground(**{"processes": (WITHOUT_CONTROL,), "results": CLEAN, **parts})


def state(value: str, statistic: str = "RMSE", **parts: str) -> Card:
    """Return a statement of a report."""
    given = {
        "accuracy": "vertical",
        "statistic": statistic,
        "count": "14",
        "checkpoints": "c" * 64,
        "about": "out",
        **parts,
    }
    values = {f"statement.{name}": KnownValue(text) for name, text in given.items() if text}
    values["statement.value"] = KnownValue(value, "m")
    return Card("A1", "", 9, "2026-05-15T09:00:00Z", "technician", values)


def of_claim(card: Card, points: tuple[Residual, ...] = POINTS, **asked: Any) -> Finding:
    """Return what is said of a statement."""
    evidence = make_known(job=JobRecords(statements=(card,)))
    (found,) = (
        each
        for each in judge(AccuracyStatement(), points, asked, evidence)
        if each.subject == card.id
    )
    return found


def sentence(points: tuple[Residual, ...], asked: Any = None, **parts: Any) -> Finding:
    """Return the sentence, or why there is none."""
    return judge(AccuracyStatement(), points, asked, make_known(**parts))[0]


@pytest.mark.parametrize(
    ("value", "grade"),
    [
        ("0.023", None),
        ("0.025", None),  # 2 mm of another surface, and half of the last digit
        ("0.02", None),  # rounded to a centimetre
        ("0.0209", Grade.MAJOR),
        ("0.026", Grade.MINOR),
    ],
)
def test_a_stated_number_is_computed_again(value: str, grade: Grade | None) -> None:
    """Within rounding and 2 mm it is borne out; better than the files is major, worse minor."""
    assert of_claim(state(value)).grade is grade


def test_the_spread_passed_off_as_the_rmse() -> None:
    """CP-10: the bias of 15 mm is left out of the number."""
    found = of_claim(state("0.018"))
    assert found.grade is Grade.MAJOR
    assert "CP-10" in found.catalogue
    assert "bias of +0.015 m" in found.sentence
    other = of_claim(state("0.012"))
    assert "CP-10" not in other.catalogue


@pytest.mark.parametrize(
    ("statistic", "value", "outcome"),
    [
        ("1.96 RMSE", "0.045", Outcome.CONFORMS),
        ("1.96 RMSE", "0.035", Outcome.NONCONFORMING),
        ("mean", "0.015", Outcome.CONFORMS),
        ("mean", "-0.015", Outcome.NONCONFORMING),
        ("standard deviation", "0.018", Outcome.CONFORMS),
        ("standard deviation", "0.014", Outcome.NONCONFORMING),
    ],
)
def test_every_statistic_is_its_own(statistic: str, value: str, outcome: Outcome) -> None:
    """A number is held against the statistic that it is said to be."""
    assert of_claim(state(value, statistic)).outcome is outcome


def test_statistics_of_the_absolute_errors() -> None:
    """95th percentile, median and largest, against numpy."""
    errors = np.array([each.dz or 0.0 for each in POINTS])
    wanted = {
        "95th percentile": np.percentile(np.abs(errors), 95),
        "median": np.median(errors),
        "largest": np.abs(errors).max(),
    }
    for statistic, value in wanted.items():
        assert of_claim(state(f"{value:.3f}", statistic)).outcome is Outcome.CONFORMS
        assert of_claim(state(f"{value - 0.01:.3f}", statistic)).outcome is Outcome.NONCONFORMING


def picked() -> tuple[Residual, ...]:
    """Return points with targets 0.03 m east and 0.04 m north of where they should be."""
    return tuple(replace(each, dx=0.03, dy=0.04) for each in POINTS)


@pytest.mark.parametrize(
    ("accuracy", "value"),
    [("horizontal", 0.05), ("three-dimensional", float(np.hypot(0.05, 0.023)))],
)
def test_accuracy_in_plan_and_space(accuracy: str, value: float) -> None:
    """Axes add up by squares; without picked targets there is no such number."""
    good = state(f"{value:.3f}", accuracy=accuracy)
    assert of_claim(good, picked()).outcome is Outcome.CONFORMS
    bad = state(f"{value - 0.01:.3f}", accuracy=accuracy)
    assert of_claim(bad, picked()).grade is Grade.MAJOR
    assert of_claim(good).outcome is Outcome.INCONCLUSIVE


def test_points_in_vegetation_are_not_those_of_the_open_ground() -> None:
    """A number is held against the points that it is said to be of."""
    grown = tuple(
        replace(each, id=f"V{n}", stratum="forest", dz=0.1, north_m=each.north_m + 5.0)
        for n, each in enumerate(POINTS)
    )
    open_ground = tuple(replace(each, stratum="bare") for each in POINTS)
    both = (*open_ground, *grown)
    assert of_claim(state("0.1", strata="vegetated"), both).outcome is Outcome.CONFORMS
    assert of_claim(state("0.023", strata="non-vegetated"), both).outcome is Outcome.CONFORMS
    assert of_claim(state("0.023", strata="all"), both).grade is Grade.MAJOR
    assert of_claim(state("0.023", strata="other"), both).outcome is Outcome.INCONCLUSIVE


@pytest.mark.parametrize("value", ["much", "NaN", "Infinity"])
def test_what_is_no_number_is_told_elsewhere(value: str) -> None:
    """A statement without a number is no claim; statement-support says what it lacks."""
    evidence = make_ground(job=JobRecords(statements=(state(value),)))
    subjects = [each.subject for each in judge(AccuracyStatement(), POINTS, None, evidence)]
    assert "A1" not in subjects


def test_a_number_that_only_control_bears_out() -> None:
    """Every checkpoint was control: a stated accuracy is major, whatever its number."""
    job = JobRecords(statements=(state("0.023"),))
    evidence = make_ground(job=job, processes=(CONTROL,))
    found = judge(AccuracyStatement(), POINTS, None, evidence)[1]
    assert found.grade is Grade.MAJOR
    assert found.catalogue == ("RH-07", "CP-06")


def test_the_sentence_has_number_interval_day_and_limits() -> None:
    """All that a reader needs, and what may not be read into it."""
    found = sentence(EVEN)
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
    full = sentence(MANY, NSSDA, **APART).sentence
    assert "0.045 m vertical accuracy at 95 % confidence level (1.9600 x RMSE)" in full
    assert full.endswith("Tested by NSSDA.")
    narrow = find("checkpoint-count", Grade.MINOR, subject=SPREAD)
    for points, parts, why in (
        (EVEN, {}, "fewer than 20 it is no full test by NSSDA"),
        (MANY, {"results": {**CLEAN, "checkpoint-count": narrow}}, "do not cover the whole site"),
        (MANY, {"tables": make_tables(base="QM1")}, "relative to the base of the flight"),
        (MANY, {"tables": make_tables()}, "no absolute accuracy"),
    ):
        told = sentence(points, NSSDA, **{**APART, **parts}).sentence
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
    assert told in sentence(points, NSSDA, **APART).sentence
    assert "In plan: RMSE" in sentence(points, None, **APART).sentence
    assert "95 % confidence" not in sentence(points, None, **APART).sentence


def test_the_sentence_says_that_a_base_is_shared() -> None:
    """Absolute accuracy is not what such points show."""
    found = sentence(EVEN, tables=make_tables(base="QM1"), flights=(FLIGHT,))
    assert "relative to the base of the flight" in found.sentence


def test_no_interval_beside_a_bias_larger_than_the_spread() -> None:
    """Chi-square is of errors without one; up to the spread its limits are only a little wide."""
    assert "95 % interval 0.017 to 0.036 m; mean +0.015 m" in sentence(POINTS).sentence
    off = make_residuals(draw(14, 0.023, 0.018), stratum="bare")
    told = sentence(off).sentence
    assert "vertical RMSE 0.023 m (no interval: the bias is larger than the spread" in told
    assert "mean +0.018 m" in told


CONTROL = Process(
    "R1", "run", "", 3, "", "technician", Decision.ACCEPTED, 3, "",
    {"run.control_used": KnownValue(True)}, (Input(sha256="c" * 64, role="control"),),
)  # fmt: skip
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
    found = sentence(points, **parts)
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
    found = find(check, grade, subject="C01 and C02", remedy="mend it")
    results = {**CLEAN, check: found}
    assert why in sentence(EVEN, results=results).sentence
    evidence = make_known(job=JobRecords(statements=(state("0.023"),)), results=results)
    claim = judge(AccuracyStatement(), EVEN, None, evidence)[1]
    assert claim.outcome is Outcome.INCONCLUSIVE
    assert why in claim.sentence


def test_what_nobody_recorded_stands_behind_what_is_wrong() -> None:
    """A broken limit and a named cause are the reason; that no run is on record comes after."""
    broken = find("vertical-accuracy", Grade.MAJOR, subject="delivery", remedy="mend it")
    cause = find("named-cause", Grade.MINOR, subject="delivery", remedy="mend it")
    results = {**CLEAN, "vertical-accuracy": broken, "named-cause": cause}
    told = sentence(EVEN, results=results, processes=()).sentence
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
    results = {**CLEAN, check: find(check, Grade.OBSERVATION, subject=subject)}
    found = sentence(EVEN, results=results).sentence
    assert found.startswith("You may state: ")
    assert told in found
    assert told not in sentence(EVEN).sentence


def test_figures_of_every_kind() -> None:
    """Heights, survey error, vegetation, plan and what was left out, each with its number."""
    grown = replace(POINTS[0], id="V1", stratum="forest", dz=0.3, north_m=3_100_100.0)
    blind = replace(POINTS[0], id="B1", dz=None, north_m=3_100_200.0)
    points = (*(replace(each, sigma_vertical_m=0.01) for each in picked()), grown, blind)
    told = look(AccuracyStatement(), points, evidence=make_known())[1]
    figures = {each.name: each for each in told}
    assert set(figures) == {
        "vertical-rmse",
        "vertical-rmse-with-survey",
        "vertical-mean",
        "vegetated-percentile-95",
        "horizontal-rmse",
        "checkpoints-not-counted",
        "sentence",
    }
    assert figures["sentence"].sentence.startswith("You may state: ")
    for each in figures.values():
        require_figure("accuracy-statement", each)
    rmse = figures["vertical-rmse"]
    assert (rmse.value, rmse.count, rmse.unit) == ("0.0230", 14, "m")
    assert (rmse.low, rmse.high) == ("0.0168", "0.0363")
    assert figures["checkpoints-not-counted"].listed == ("B1",)
    mean = figures["vertical-mean"]
    assert (len(mean.listed), len(mean.values)) == (14, 14)
    values = [float(value) for value in mean.values]
    assert float(mean.value) == pytest.approx(np.mean(values), abs=1e-4)
    # Student's interval of the mean, by the reference library.
    interval = stats.t.interval(0.95, 13, loc=np.mean(values), scale=stats.sem(values))
    assert (float(mean.low), float(mean.high)) == pytest.approx(interval, abs=2e-4)


def test_one_checkpoint_has_no_interval_of_its_mean() -> None:
    """It is told and plotted by itself."""
    figures = {f.name: f for f in look(AccuracyStatement(), make_residuals([0.01]))[1]}
    mean = figures["vertical-mean"]
    assert (mean.low, mean.high, mean.values) == ("", "", ("0.0100",))


def test_a_median_that_tells_something_else_is_told() -> None:
    """One blunder moves mean and spread, and hardly the median."""
    even = (0.02 * stats.norm.ppf((np.arange(14) + 0.5) / 14)).tolist()
    plain = look(AccuracyStatement(), make_residuals(even))[1]
    spoilt = look(AccuracyStatement(), make_residuals([*even[:-1], 2.0]))[1]
    assert "median" not in next(f.sentence for f in plain if f.name == "vertical-mean")
    assert "median" in next(f.sentence for f in spoilt if f.name == "vertical-mean")
