"""What the check says: sentence, grade, one thing to do; on the made-up job with its own grids."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from made_residuals import (
    ACCEPTED,
    FRAME_SHIFT,
    GEOID_A,
    GEOID_B,
    GRADIENT,
    REJECTED,
    make_residuals,
)
from named_cause import Tell, write_small

from ledger.contract.check import Finding, Grade, Outcome
from ledger.contract.evidence import Evidence
from ledger.model.fieldlogs import FieldLogs
from ledger.model.known import KnownBy, KnownValue
from ledger.testing import (
    make_table,
)


def test_ellipsoidal_heights(tell: Tell) -> None:
    """Observed, predicted, difference, gate, cause, rest and one thing to do stand there."""
    (found,) = tell(make_residuals(REJECTED))
    assert (found.outcome, found.grade) == (Outcome.NONCONFORMING, Grade.MAJOR)
    assert found.sentence == (
        "The mean residual of -31.908 m in height equals the geoid height, -31.912 m here "
        "(difference +0.004 m, gate ±0.092 m): the heights are ellipsoidal. "
        "Without it the rest is mean +0.004 m, RMSE 0.024 m."
    )
    assert found.catalogue == ("VD-01",)
    assert found.remedy.startswith("Export again")
    assert (found.observed, found.unit) == ("-31.908", "m")


def test_another_geoid(tell: Tell) -> None:
    """Heights by geoid B are told by its file: -0.367 m against -0.382, gate 0.033.

    A number so small is no proof: it is told as possible, with what would tell; where the settings
    contradict each other about heights, it is the cause.
    """
    residuals = make_residuals(ACCEPTED + GEOID_A - GEOID_B)
    (found,) = tell(residuals)
    assert found.catalogue == ("VD-04",)
    assert "-0.367 m in height equals" in found.sentence
    assert "-0.382 m here (difference +0.015 m, gate ±0.033 m)" in found.sentence
    assert "It may be that the geoid heights of geoid/demo-geoid-B.tif were used" in found.sentence
    assert "nothing else on record speaks for it" in found.sentence
    assert found.remedy.startswith("Before anything is changed, look up which grid")
    wrong = Finding("height-chain", Outcome.NONCONFORMING, "R1", "So.", grade=Grade.MAJOR)
    (named,) = tell(residuals, results={"height-chain": (wrong,)})
    assert "m in height): the geoid heights of" in named.sentence
    assert named.remedy.startswith("Process the heights again")


def test_an_untransformed_frame(tell: Tell) -> None:
    """ITRF delivered as NAD83(2011), worked out by a registered operation for this place and day.

    Invented shift (-0.77, +0.95, -1.26) m; EPSG operation 10334 gives it to 2 cm there.
    """
    lift = FRAME_SHIFT[2] - GRADIENT @ FRAME_SHIFT[:2]
    noise = np.linspace(-0.02, 0.02, len(ACCEPTED))
    plan = {"dx": FRAME_SHIFT[0] + noise, "dy": FRAME_SHIFT[1] - noise}
    (found,) = tell(make_residuals(ACCEPTED + lift, **plan))
    assert found.catalogue == ("CR-02", "GN-06")
    assert found.grade is Grade.MAJOR
    assert "ITRF2020 coordinates were delivered as NAD83(2011)" in found.sentence


def test_nothing_wrong(tell: Tell) -> None:
    """A sound job conforms, and says how many mistakes would have shown."""
    (found,) = tell(make_residuals(ACCEPTED))
    assert found.outcome is Outcome.CONFORMS
    assert "+0.015 m" in found.sentence


def test_an_assumed_table_never_passes(tell: Tell) -> None:
    """Where somebody only assumed what the table is in, no cause is no pass."""
    assumed = KnownValue("orthometric", "", KnownBy.ASSUMED)
    table = make_table((), declared={"vertical": assumed})
    (found,) = tell(make_residuals(ACCEPTED), tables=(table,))
    assert found.outcome is Outcome.INCONCLUSIVE
    assert "vertical" in found.sentence


@pytest.mark.parametrize(("limit", "grade"), [(31.9, Grade.MAJOR), (31.92, Grade.MINOR)])
def test_grade_follows_the_criterion(tell: Tell, limit: float, grade: Grade) -> None:
    """A named cause is major just beyond the limit of the heights, RMSE 31.908 m, minor inside."""
    (found,) = tell(make_residuals(REJECTED), criteria={"rmse_max_m": limit})
    assert found.grade is grade


def test_the_limit_of_the_accuracy_counts(tell: Tell, evidence: Evidence) -> None:
    """Where job.toml states how accurate heights have to be, that decides."""
    wishes = evidence.specification.model_copy(
        update={"criteria": {"vertical-accuracy": {"rmse_max_m": 40.0}}}
    )
    (found,) = tell(make_residuals(REJECTED), specification=wishes)
    assert found.grade is Grade.MINOR


def test_a_tie_names_what_would_separate(tell: Tell) -> None:
    """On flat ground without targets two frames tie; one target would tell."""
    (found,) = tell(make_residuals(ACCEPTED + FRAME_SHIFT[2], gradient=(0.0, 0.0)))
    assert found.outcome is Outcome.NONCONFORMING
    assert "2 causes fit it" in found.sentence
    assert found.remedy == "To tell which, measure one target in plan."
    assert {"CR-02", "VD-05"} <= set(found.catalogue)


def test_contradictions_speak_for_a_tie_and_decide_nothing(tell: Tell) -> None:
    """Settings that contradict each other are told beside a tie; the grade stays."""
    residuals = make_residuals(ACCEPTED + FRAME_SHIFT[2], gradient=(0.0, 0.0))
    (without,) = tell(residuals)
    wrong = Finding("height-chain", Outcome.NONCONFORMING, "R1", "So.", grade=Grade.MAJOR)
    (found,) = tell(residuals, results={"height-chain": (wrong,)})
    assert "(height-chain), which speaks for this: heights above the ellipsoid" in found.sentence
    assert (found.grade, found.catalogue) == (without.grade, without.catalogue)


def test_no_power(tell: Tell, evidence: Evidence, tmp_path: Path) -> None:
    """Where the geoid height is 4 cm, nobody can tell the two kinds of height apart."""
    small = write_small(tmp_path)
    grids = {"geoid_sha256": small.sha256, "geoid_grid": small.path}
    changes = {**grids, "geoids": {small.sha256: small}, "logs": FieldLogs()}
    clean = tell(make_residuals(ACCEPTED), **changes)
    blind = [each for each in clean if each.outcome is Outcome.INCONCLUSIVE]
    assert len(blind) == 1
    assert "the heights are ellipsoidal (predicted +0.040 m" in blind[0].sentence
    off = tell(make_residuals(ACCEPTED - ACCEPTED.mean() + 0.04), **changes)
    assert [each.outcome for each in off] == [Outcome.INCONCLUSIVE]
    assert "too little to tell at this place" in off[0].sentence
    del evidence


def test_some_points_only(tell: Tell) -> None:
    """Points of some files that lie off by the geoid height are told with their files."""
    residuals = make_residuals(np.where(np.arange(14) < 5, REJECTED, ACCEPTED))
    placed = [
        replace(each, files=(f"tile_{14 if n < 5 else 1:02d}.las",))
        for n, each in enumerate(residuals)
    ]
    (found,) = tell(placed)
    assert (found.subject, found.where.file) == ("tile_14.las", "tile_14.las")
    assert "Only C01, C02, C03, C04, C05 lie so, of 14 checkpoints" in found.sentence
    assert found.catalogue[0] == "VD-01"


def test_an_offset_without_a_name(tell: Tell) -> None:
    """An offset that nothing explains is told with the nearest prediction, as a minor finding."""
    (found,) = tell(make_residuals(ACCEPTED + 0.95))
    assert (found.grade, found.catalogue) == (Grade.MINOR, ("GN-01", "VD-10"))
    assert "Nothing on record explains it; the nearest," in found.sentence


@pytest.mark.parametrize("count", [0, 1, 2])
def test_too_few(tell: Tell, count: int) -> None:
    """Two checkpoints say nothing of causes, none says that it says nothing."""
    (found,) = tell(make_residuals(REJECTED)[:count])
    expected = Outcome.INCONCLUSIVE if count else Outcome.NOT_ASSESSED
    assert found.outcome is expected


def test_no_height_of_the_cloud(tell: Tell) -> None:
    """Checkpoints without a height of the cloud are not assessed, with the reason of one."""
    residuals = [replace(each, dz=None, reason="too rough") for each in make_residuals(ACCEPTED)]
    (found,) = tell(residuals)
    assert (found.outcome, found.needs) == (Outcome.NOT_ASSESSED, ("residuals",))
    assert "too rough" in found.sentence
