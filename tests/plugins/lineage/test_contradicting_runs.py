"""Runs that cannot both have made the points of a file that both are said to have made."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from delivered_runs import R1, R2, judge, make_process

from ledger.contract.check import Finding, Grade, Outcome
from ledger.model.known import KnownBy, KnownValue
from ledger.model.lineage import Custody, CustodyState, Line, MatchedBy
from ledger.model.process import Decision
from ledger.testing import make_file
from lidar_checks.lineage.custody_of_points import CustodyOfPoints


def share(first: dict[str, Any], second: dict[str, Any], **parts: Any) -> Finding:
    """Return what is said of a file that an accepted and a rejected run are said to have made."""
    runs = [
        replace(run, values={f"run.{key}": _know(value) for key, value in said.items()})
        for run, said in ((R2, first), (R1, second))
    ]
    lines = parts.pop("lines", tuple(Line((run,)) for run in runs))
    custody = Custody(CustodyState.ACCEPTED, parts.pop("by", MatchedBy.DIGEST), lines)
    (found,) = judge(CustodyOfPoints(), make_file("a.las", custody=custody, **parts)).values()
    return found


def _know(value: str | KnownValue) -> KnownValue:
    return value if isinstance(value, KnownValue) else KnownValue(value)


ABOVE_GEOID = {"output_height_type": "orthometric"}
ABOVE_ELLIPSOID = {"output_height_type": "ellipsoidal"}
GUESSED = KnownValue("ellipsoidal", known_by=KnownBy.ASSUMED, confirmed=False)
CARRIED = KnownValue("ellipsoidal", known_by=KnownBy.CARRIED, confirmed=False)


def test_two_runs_that_cannot_have_made_the_same_file() -> None:
    """Heights of two kinds lie metres apart: both runs and both values are told, and what to do."""
    found = share(ABOVE_GEOID, ABOVE_ELLIPSOID)
    assert (found.grade, found.catalogue) == (Grade.MINOR, ("RH-03",))
    assert found.sentence == (
        "a.las has the points of run R2 (output height type orthometric) and of run R1 (output "
        "height type ellipsoidal), which cannot give the same points: one of the records is wrong."
    )
    assert found.observed == (
        "run R2: output height type orthometric; run R1: output height type ellipsoidal"
    )
    assert "swathbook amend R1 --set output_height_type=" in found.remedy


@pytest.mark.parametrize(
    ("first", "second", "name"),
    [
        ({"mount_mode": "drone"}, {"mount_mode": "hand"}, "mount mode hand"),
        (
            {"position_source": "aircraft receiver"},
            {"position_source": "scanner receiver"},
            "position source scanner receiver",
        ),
        ({"crs": "EPSG:6346"}, {"crs": "EPSG:6347"}, "crs EPSG:6347"),
        (
            {**ABOVE_GEOID, "geoid_name": "GEOID18"},
            {**ABOVE_GEOID, "geoid_name": "GEOID12B"},
            "geoid name GEOID12B",
        ),
    ],
)
def test_every_setting_that_moves_points_counts(
    first: dict[str, Any], second: dict[str, Any], name: str
) -> None:
    """The other order is told as well, and a match by all points is as good as one by bytes."""
    assert name in share(first, second).sentence
    assert share(second, first).grade is Grade.MINOR
    assert share(first, second, by=MatchedBy.POINTS).grade is Grade.MINOR


@pytest.mark.parametrize(
    ("first", "second"),
    [
        (ABOVE_GEOID, ABOVE_GEOID),
        (ABOVE_GEOID, {}),
        (ABOVE_GEOID, {"output_height_type": GUESSED}),
        (ABOVE_GEOID, {"output_height_type": CARRIED}),
        (ABOVE_GEOID, {"output_height_type": "site"}),
        ({"range_max": "90"}, {"range_max": "120"}),
        ({"position_source": "post-processed"}, {"position_source": "scanner receiver"}),
        ({"crs": "EPSG:6346"}, {"crs": "NAD83(2011) / UTM zone 17N"}),
        ({"crs": "EPSG:6346"}, {"crs": "epsg:6346"}),
        (
            {**ABOVE_ELLIPSOID, "geoid_name": "GEOID18"},
            {**ABOVE_ELLIPSOID, "geoid_name": "GEOID12B"},
        ),
        ({**ABOVE_GEOID, "geoid_name": "GEOID18"}, {**ABOVE_GEOID, "geoid_name": "Geoid 18"}),
        ({**ABOVE_GEOID, "geoid_name": "GEOID18"}, {**ABOVE_GEOID, "geoid_name": "none"}),
    ],
)
def test_runs_that_can_have_made_the_same_file(
    first: dict[str, Any], second: dict[str, Any]
) -> None:
    """A run recorded twice, what nobody confirmed, and what moves nothing contradict nothing."""
    assert share(first, second).outcome is Outcome.CONFORMS


def test_only_points_that_two_runs_made_apart_can_contradict() -> None:
    """A raster may be the same for other heights; a run on files of the other left them alone."""
    assert share(ABOVE_GEOID, ABOVE_ELLIPSOID, kind="raster").outcome is Outcome.CONFORMS
    upper = replace(R2, values={"run.output_height_type": KnownValue("orthometric")})
    lower = replace(R1, values={"run.output_height_type": KnownValue("ellipsoidal")})
    lines = (Line((upper, lower)), Line((lower,)))
    assert share({}, {}, lines=lines).outcome is Outcome.CONFORMS
    step = replace(make_process("S4", Decision.ACCEPTED), values=upper.values)
    assert share({}, {}, lines=(Line((step,)), Line((lower,)))).outcome is Outcome.CONFORMS


def test_files_whose_makers_nobody_looked_up_are_not_assessed() -> None:
    """Without the makers nothing can be said of contradictions, and that is no pass."""
    (found,) = judge(CustodyOfPoints(), make_file("a.las", custody=None)).values()
    assert found.outcome is Outcome.NOT_ASSESSED
