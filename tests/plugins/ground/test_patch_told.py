"""What is told of the ground at the checkpoints that are used: each error, the worst ground."""

from __future__ import annotations

from dataclasses import replace

import pytest
from ground_bench import make_residuals

from ledger.contract.check import Finding, Outcome, Plan
from ledger.testing import METRES, make_evidence, make_table
from lidar_checks.ground import checkpoint_patch
from lidar_checks.ground.checkpoint_patch import CheckpointPatch
from lidar_checks.ground.placing import NO_HEIGHT
from lidar_checks.ground.residual_family import PatchCriteria
from lidar_checks.ground.residuals import Residual


def tell(points: tuple[Residual, ...], monkeypatch: pytest.MonkeyPatch) -> Finding:
    """Return the one answer for a table of these points."""
    monkeypatch.setattr(checkpoint_patch, "list_residuals", lambda *_: points)
    monkeypatch.setattr(checkpoint_patch, "list_unusable", lambda *_: ())
    given = make_evidence(tables=(make_table((), path=points[0].table),))
    (found,) = CheckpointPatch().finish(Plan(PatchCriteria(), METRES), {}, given)
    assert isinstance(found, Finding)
    return found


def test_each_error_is_told_with_the_worst_ground(monkeypatch: pytest.MonkeyPatch) -> None:
    """Slope is the length of the gradient: 3 and 4 in 100 are 5 in 100."""
    flat, steep = make_residuals([0.0194, -0.0226], count=12, gradient=(0.0, 0.0))
    points = (replace(flat, roughness_m=0.0121), replace(steep, gradient=(0.03, -0.04), count=31))
    found = tell(points, monkeypatch)
    assert found.outcome is Outcome.CONFORMS
    assert "12 to 31 points, sloping at most 5.0%, rough by at most 0.012 m. " in found.sentence
    assert "Cloud less survey: C01 +0.019, C02 -0.023 m." in found.sentence


def test_a_long_table_is_cut_and_counted(monkeypatch: pytest.MonkeyPatch) -> None:
    """The screen holds twenty; the rest is counted."""
    found = tell(make_residuals([0.01] * 23, count=12), monkeypatch)
    assert found.sentence.endswith("C20 +0.010 m and 3 more.")


def test_a_point_without_a_height_is_written_or_taken_out(monkeypatch: pytest.MonkeyPatch) -> None:
    """No other ground is to be surveyed where only a cell of the table is blank."""
    used, blank = make_residuals([0.0194, -0.0226], count=12)
    blank = replace(blank, dz=None, reason=NO_HEIGHT)
    steep = replace(blank, reason="the ground slopes 14 %")
    monkeypatch.setattr(checkpoint_patch, "_find_place", lambda *_: None)
    monkeypatch.setattr(checkpoint_patch, "list_unusable", lambda *_: ())
    given = make_evidence(tables=(make_table((), path=used.table),))
    for point, remedy in ((blank, "Write its height"), (steep, "Judge no height by it")):
        monkeypatch.setattr(checkpoint_patch, "list_residuals", lambda *_, p=point: (used, p))
        found, _ = CheckpointPatch().finish(Plan(PatchCriteria(), METRES), {}, given)
        assert isinstance(found, Finding)
        assert found.remedy.startswith(remedy)
