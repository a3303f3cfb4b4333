"""What the made-up cloud shows at the made-up checkpoints is what was put into it."""

from __future__ import annotations

import math
import statistics
import subprocess
from pathlib import Path

import numpy as np
import pytest
from ground_probe import find_residuals

from ledger.audit.surveytables import read_survey_tables
from ledger.demo import site
from ledger.store.reading import Book


@pytest.mark.parametrize(
    ("run", "planted", "mean", "rmse"),
    [("R1", "rejected_m", -31.908, 31.908), ("R2", "accepted_m", 0.015, 0.023)],
)
def test_the_residuals_are_those_that_were_planted(
    walked: tuple[Path, subprocess.CompletedProcess[str]],
    run: str,
    planted: str,
    mean: float,
    rmse: float,
) -> None:
    """Each within 3 mm, mean and RMSE to the millimetre: the spots scatter 3 mm a point."""
    job = walked[0] / "QM-0412"
    with Book.open(job) as book:
        tables = read_survey_tables(book.cards("points"), job)
    found = find_residuals(job / "out" / run, *tables)
    residuals = []
    for each in site.CHECKPOINTS:
        dz = found[each.name].dz
        assert dz is not None, found[each.name].reason
        assert dz == pytest.approx(getattr(each, planted), abs=0.003)
        residuals.append(dz)
    assert statistics.mean(residuals) == pytest.approx(mean, abs=0.0005)
    assert math.sqrt(statistics.mean(dz * dz for dz in residuals)) == pytest.approx(rmse, abs=6e-4)


def test_without_the_geoid_the_rejected_run_is_as_good(
    walked: tuple[Path, subprocess.CompletedProcess[str]],
) -> None:
    """Less the geoid height at each point its mean is 4 mm and its RMSE 24 mm."""
    job = walked[0] / "QM-0412"
    with Book.open(job) as book:
        tables = read_survey_tables(book.cards("points"), job)
    found = find_residuals(job / "out" / "R1", *tables)
    east, north = (
        np.array([getattr(each, axis) for each in site.CHECKPOINTS]) for axis in ("east", "north")
    )
    geoid = site.compute_geoid_a(east, north)
    rest = np.array([found[each.name].dz for each in site.CHECKPOINTS], dtype=float) - geoid
    assert float(np.mean(geoid)) == pytest.approx(-31.912, abs=0.0005)
    assert float(np.mean(rest)) == pytest.approx(0.004, abs=0.001)
    assert float(np.sqrt(np.mean(rest**2))) == pytest.approx(0.024, abs=0.001)
