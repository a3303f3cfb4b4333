"""Seams in feet, in units of their own for heights, and in what has no lengths."""

from __future__ import annotations

import dataclasses
from typing import Any

import pytest
from made_cloud import Site, make_crs, make_specification
from made_seams import list_accused

from ledger.contract.check import Outcome
from ledger.model.georeferencing import CrsKind
from ledger.testing import check_tally_laws
from ledger.units import METRE, US_SURVEY_FOOT
from lidar_checks.cloud.seams import Seams


def test_feet_are_feet() -> None:
    """Coordinates and heights in US survey feet give the step in metres."""
    foot = float(US_SURVEY_FOOT.factor)
    site = Site(3, 3, 40 / foot, 6 * foot**2, raised={(1, 1): 0.3 / foot}, noise=0.02 / foot)
    crs = make_crs(US_SURVEY_FOOT)
    (finding,) = site.deliver(crs=crs).drive(Seams())
    assert "lies 0.30 m above" in finding.sentence
    assert not list_accused(
        list(dataclasses.replace(site, raised={}).deliver(crs=crs).drive(Seams()))
    )


@pytest.mark.parametrize(
    ("stated", "ordered", "metres"),
    [(US_SURVEY_FOOT, None, 0.3048), (None, "us-survey-foot", 0.3048), (None, None, 1.0)],
)
def test_heights_have_a_unit_of_their_own(stated: Any, ordered: Any, metres: float) -> None:
    """A step of one unit of Z is a foot or a metre as the file, or else the order, says."""
    site = Site(raised={(1, 1): 1.0})
    delivery = site.deliver(crs=make_crs(METRE, heights=stated))
    (finding,) = delivery.drive(Seams(), specification=make_specification("metre", ordered))
    assert float(finding.observed) == pytest.approx(metres, abs=0.001)


def test_degrees_and_odd_units_are_not_assessed() -> None:
    """Files in degrees are named as such; a tile in another unit is named and left out."""
    globe = Site(2, 1).deliver(crs=make_crs(None, CrsKind.GEOGRAPHIC))
    assert {f.outcome for f in globe.drive(Seams())} == {Outcome.NOT_ASSESSED}
    mixed = Site(3, 3).deliver()
    mixed.files["tile_0_0.laz"] = dataclasses.replace(
        mixed.files["tile_0_0.laz"], crs=make_crs(US_SURVEY_FOOT)
    )
    findings = list(mixed.drive(Seams()))
    assert [(f.outcome, f.subject) for f in findings] == [
        (Outcome.NOT_ASSESSED, "tile_0_0.laz"),
        (Outcome.CONFORMS, "delivery"),
    ]


def test_a_file_of_degrees_keeps_the_laws() -> None:
    """The tally of a file that cannot be compared keeps nothing, lawfully."""
    delivery = Site(2, 1).deliver(crs=make_crs(None, CrsKind.GEOGRAPHIC))
    path = "tile_0_0.laz"
    check_tally_laws(
        Seams(),
        [delivery.chunks[path]],
        evidence=delivery.make_evidence(),
        file=delivery.files[path],
    )
