"""The sentence that checkpoints bear out, and the numbers that reports state."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from ground_bench import draw, judge, look, make_ground, make_residuals, make_tables
from scipy import stats

from ledger.contract.check import Finding, Grade, Outcome
from ledger.contract.figures import require_figure
from ledger.model.jobrecords import JobRecords
from ledger.model.known import KnownBy, KnownValue
from ledger.model.process import Card, Decision, Input, Process
from lidar_checks.ground.accuracy_statement import AccuracyStatement
from lidar_checks.ground.residuals import Residual

# RMSE 0.023 m, mean 0.015 m: the spread with n - 1 is 0.0181 m.
POINTS = make_residuals(draw(14, 0.023, 0.015), surveyed="2026-05-12")


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
    evidence = make_ground(job=JobRecords(statements=(card,)))
    (found,) = (
        each
        for each in judge(AccuracyStatement(), points, asked, evidence)
        if each.subject == card.id
    )
    return found


def sentence(points: tuple[Residual, ...], asked: Any = None, **parts: Any) -> Finding:
    """Return the sentence, or why there is none."""
    return judge(AccuracyStatement(), points, asked, make_ground(**parts))[0]


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
    found = sentence(POINTS)
    assert found.outcome is Outcome.CONFORMS
    for part in (
        "vertical RMSE 0.023 m (95 % interval 0.017 to 0.036 m)",
        "14 independent checkpoints on ground of which the table says nothing",
        "surveyed 2026-05-12",
        "fewer than 30",
    ):
        assert part in found.sentence
    asked = {"count_min": 10, "standard": "NSSDA", "at_95": True}
    other = sentence(POINTS, asked).sentence
    assert "0.045 m at 95 % confidence" in other
    assert "tested by NSSDA" in other
    assert "fewer" not in other


def test_the_sentence_says_that_a_base_is_shared() -> None:
    """Absolute accuracy is not what such points show."""
    flight = Card("F1", "", 2, "", "technician", {"flight.base_mark": KnownValue("QM1")})
    found = sentence(POINTS, tables=make_tables(base="QM1"), flights=(flight,))
    assert "relative to the base of the flight" in found.sentence


CONTROL = Process(
    "R1", "run", "", 3, "", "technician", Decision.ACCEPTED, 3, "",
    {"run.control_used": KnownValue(True)}, (Input(sha256="c" * 64, role="control"),),
)  # fmt: skip
CARRIED = KnownValue("EPSG:6346", known_by=KnownBy.CARRIED, confirmed=False)


@pytest.mark.parametrize(
    ("points", "parts", "why"),
    [
        ((), {}, "there are no checkpoints"),
        (make_residuals([None] * 9), {}, "gives a height"),
        (POINTS[:2], {}, "too few"),
        (POINTS, {"processes": (CONTROL,)}, "every checkpoint was control"),
        (POINTS, {"tables": make_tables(horizontal=CARRIED)}, "nobody confirmed"),
    ],
)
def test_the_sentence_is_refused(
    points: tuple[Residual, ...], parts: dict[str, Any], why: str
) -> None:
    """No accuracy where nothing bears one out, and why."""
    found = sentence(points, **parts)
    assert found.outcome is Outcome.INCONCLUSIVE
    assert why in found.sentence


def test_figures_of_every_kind() -> None:
    """Heights, survey error, vegetation, plan and what was left out, each with its number."""
    grown = replace(POINTS[0], id="V1", stratum="forest", dz=0.3, north_m=3_100_100.0)
    blind = replace(POINTS[0], id="B1", dz=None, north_m=3_100_200.0)
    points = (*(replace(each, sigma_vertical_m=0.01) for each in picked()), grown, blind)
    figures = {each.name: each for each in look(AccuracyStatement(), points)[1]}
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


def test_the_sentence_says_that_nothing_is_known_of_control() -> None:
    """Without a run on record nobody knows whether the cloud was fitted to these very points."""
    found = sentence(POINTS)
    assert "whether anything was fitted to them is not known" in found.sentence
    known = {"run.control_used": KnownValue(value=False)}
    run = Process(
        *("R1", "run", "", 5, "2026-05-12T20:00:00Z", "pilot", Decision.ACCEPTED, 5, "", known)
    )
    assert "was fitted" not in sentence(POINTS, processes=(run,)).sentence
