"""Point density: what counts, in which cells, over which footprint, and when it cannot be said."""

from __future__ import annotations

import dataclasses
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from made_cloud import (
    Delivery,
    make_crs,
    make_header,
    make_lattice_points,
    make_points,
    make_specification,
    read_open_file,
)
from open_data import OpenFile
from pydantic import ValidationError

from ledger.contract.check import Finding, Grade, Outcome
from ledger.model.chunk import Lattice, PointChunk
from ledger.model.georeferencing import CrsKind
from ledger.testing import check_tally_laws, join, take
from ledger.units import INTERNATIONAL_FOOT, US_SURVEY_FOOT, Unit
from lidar_checks.cloud.point_density import DensityCriteria, PointDensity

BOX = (1000.0, 2000.0, 1030.0, 2020.0)
FOUR = {"min_pts_per_m2": 4.0}


def judge(*chunks: PointChunk, **criteria: Any) -> tuple[Finding, ...]:
    """Return what the check finds in tiles of metres."""
    delivery = Delivery()
    for number, chunk in enumerate(chunks):
        delivery.add(f"tile_{number}.laz", chunk)
    return delivery.drive(PointDensity(), {**FOUR, **criteria})


def leave_out(chunk: PointChunk, box: tuple[float, float, float, float]) -> PointChunk:
    """Return the points outside a box."""
    x, y = chunk.x / 10_000, chunk.y / 10_000
    inside = (x > box[0]) & (x < box[2]) & (y > box[1]) & (y < box[3])
    return take(chunk, ~inside)


def read_mean(finding: Finding) -> float:
    """Return the mean that a sentence states."""
    return float(finding.sentence.partition("(mean ")[2].partition(")")[0])


def test_the_customer_has_to_say_how_dense() -> None:
    """There is no default density, and no criterion below zero."""
    with pytest.raises(ValidationError, match="min_pts_per_m2"):
        DensityCriteria.model_validate_json("{}")
    with pytest.raises(ValidationError):
        DensityCriteria.model_validate_json('{"min_pts_per_m2": 0.0}')


def test_exactly_enough_in_every_cell_conforms() -> None:
    """Four points a square metre meet four, as the share, the cells and the mean say."""
    (finding,) = judge(make_lattice_points(BOX, 0.5))
    assert finding.outcome is Outcome.CONFORMS
    assert finding.sentence == (
        "100.00 % of 504 cells of 1 m hold at least 4 first returns per m² (mean 4.00)."
    )
    assert (finding.observed, finding.required) == ("100.00", "95")


def test_one_point_less_in_a_cell_fails_that_cell() -> None:
    """A cell with three points of four does not meet, and is the weakest place."""
    points = make_lattice_points(BOX, 0.5)
    (finding,) = judge(leave_out(points, (1010.0, 2005.0, 1010.4, 2005.4)), min_share_of_cells=1.0)
    assert finding.outcome is Outcome.NONCONFORMING
    assert finding.grade is Grade.MINOR
    assert finding.sentence.startswith("99.80 % of 504 cells")
    assert finding.where.file == "tile_0.laz"
    assert finding.where.xy == pytest.approx((1012.0, 2004.0), abs=8)
    assert finding.catalogue == ("DN-01",)


@pytest.mark.parametrize(
    ("thin", "share", "outcome"),
    [
        (25, 0.95, "conforms"),
        (26, 0.95, "nonconforming"),
        (126, 0.75, "conforms"),
        (127, 0.75, "nonconforming"),
    ],
)
def test_the_share_of_cells_decides_to_the_cell(thin: int, share: float, outcome: str) -> None:
    """Of 504 cells 479 are 95.04 % and meet 95 %, 478 do not; 378 are 75 % and meet 75 %."""
    points = make_lattice_points(BOX, 0.5)
    for cell in range(thin):
        x, y = 1002 + cell % 26, 2004 + cell // 26
        points = leave_out(points, (x, y, x + 0.5, y + 0.5))
    (finding,) = judge(points, min_share_of_cells=share)
    assert finding.outcome == outcome


@pytest.mark.parametrize(("asked", "outcome"), [(3.5, "conforms"), (4.1, "nonconforming")])
def test_a_cell_holds_whole_points(asked: float, outcome: str) -> None:
    """Four points meet 3.5 a square metre and do not meet 4.1."""
    assert judge(make_lattice_points(BOX, 0.5), min_pts_per_m2=asked)[0].outcome == outcome


def test_a_mean_above_the_criterion_never_passes_alone() -> None:
    """A cloud that is dense in one half and thin in the other fails although its mean is enough."""
    dense = make_lattice_points((1000.0, 2000.0, 1015.0, 2020.0), 0.25)
    thin = make_lattice_points((1015.0, 2000.0, 1030.0, 2020.0), 1.0)
    (finding,) = judge(dense, thin)
    assert finding.outcome is Outcome.NONCONFORMING
    assert "mean 8." in finding.sentence
    assert "1.00 per m² on 64 m²" in finding.sentence
    assert finding.where.file == "tile_1.laz"


def test_tile_borders_inside_a_delivery_are_no_rim() -> None:
    """The same points give the same finding in one tile, in two, and cut at odd places."""
    points = make_lattice_points(BOX, 0.5)
    points = leave_out(points, (1010.0, 2005.0, 1016.0, 2009.0))
    x = points.x / 10_000
    parts = [take(points, x < 1013.3), take(points, x >= 1013.3)]
    whole = judge(points)[0]
    cut = judge(*parts)[0]
    assert cut.sentence == whole.sentence


def test_a_narrow_gap_counts_as_thin_and_a_wide_one_as_void() -> None:
    """Cells of a strip without points fail up to 4 m; a wider hole is left out with its rim."""
    points = make_lattice_points(BOX, 0.5)
    narrow = judge(leave_out(points, (1010.0, 1990.0, 1014.0, 2030.0)))[0]
    wide = judge(leave_out(points, (1010.0, 2005.0, 1018.0, 2013.0)))[0]
    assert narrow.outcome is Outcome.NONCONFORMING
    assert narrow.sentence.startswith("85.71 % of 504 cells")
    assert wide.outcome is Outcome.CONFORMS
    assert wide.sentence.startswith("100.00 % of 404 cells")


def test_withheld_points_never_count() -> None:
    """A cloud that meets only with its withheld points does not meet."""
    points = make_lattice_points(BOX, 0.5)
    half = np.arange(len(points)) % 2 == 0
    withheld = make_points(
        points.x / 10_000, points.y / 10_000, withheld=half, return_number=1, number_of_returns=1
    )
    assert judge(points)[0].outcome is Outcome.CONFORMS
    assert judge(withheld)[0].outcome is Outcome.NONCONFORMING


@pytest.mark.parametrize(
    ("counted", "mean"),
    [("first-returns", 1.0), ("last-returns", 2.0), ("first-or-only", 2.0), ("all", 4.0)],
)
def test_only_the_named_returns_count(counted: str, mean: float) -> None:
    """Of four points a cell: a first of two, its last, an only one without number, one of many."""
    points = make_lattice_points(BOX, 0.5)
    place = ((points.x // 5000) % 2) * 2 + (points.y // 5000) % 2
    numbers = np.choose(place, [1, 2, 0, 2])
    totals = np.choose(place, [2, 2, 1, 3])
    cloud = make_points(
        points.x / 10_000, points.y / 10_000, return_number=numbers, number_of_returns=totals
    )
    (finding,) = judge(cloud, counted=counted)
    # The only return without a number is no last return, since its number is not its total.
    expected = 1.0 if counted == "last-returns" else mean
    assert f"(mean {expected:.2f})" in finding.sentence


def test_return_numbers_that_were_never_filled_are_no_density() -> None:
    """A file whose return numbers are all 0 is not assessed, and names what is missing."""
    (finding,) = judge(make_lattice_points(BOX, 0.5, return_number=0))
    assert finding.outcome is Outcome.NOT_ASSESSED
    assert finding.needs == ("return_number",)
    lost = make_lattice_points(BOX, 0.5, return_number=0, number_of_returns=0)
    assert judge(lost, counted="last-returns")[0].outcome is Outcome.NOT_ASSESSED
    assert judge(lost, counted="all")[0].outcome is Outcome.CONFORMS


def test_a_cloud_without_first_returns_is_inconclusive() -> None:
    """Numbered returns of which none is a first say nothing about pulses."""
    (finding,) = judge(make_lattice_points(BOX, 0.5, return_number=4, number_of_returns=4))
    assert finding.outcome is Outcome.INCONCLUSIVE
    assert "first-returns" in finding.sentence


def test_one_tile_without_returns_does_not_hide_the_others() -> None:
    """The tile that cannot be counted is named, and the rest is judged."""
    good = make_lattice_points(BOX, 0.5)
    bad = make_lattice_points((1030.0, 2000.0, 1060.0, 2020.0), 0.5, return_number=0)
    findings = judge(good, bad)
    assert [finding.outcome for finding in findings] == [Outcome.NOT_ASSESSED, Outcome.CONFORMS]
    assert findings[0].where.file == "tile_1.laz"


def test_an_empty_tile_spoils_nothing_and_passes_nothing() -> None:
    """An empty tile beside a good one changes nothing; alone its density is undefined."""
    empty = make_points([], [])
    assert judge(make_lattice_points(BOX, 0.5), empty)[0].outcome is Outcome.CONFORMS
    (finding,) = judge(empty)
    assert finding.outcome is Outcome.NOT_ASSESSED


@pytest.mark.parametrize("count", [1, 2])
def test_a_few_points_cover_no_cell(count: int) -> None:
    """One or two points have a rim and no inside, so nothing is said."""
    (finding,) = judge(make_points([5.0] * count, [6.0] * count))
    assert finding.outcome is Outcome.INCONCLUSIVE


def test_a_far_off_noise_point_changes_nothing() -> None:
    """A single point kilometres away is no footprint."""
    points = make_lattice_points(BOX, 0.5)
    noisy = join([points, make_points([90_000.0], [-90_000.0])])
    assert judge(noisy)[0].sentence == judge(points)[0].sentence


@pytest.mark.parametrize("unit", [US_SURVEY_FOOT, INTERNATIONAL_FOOT])
def test_cells_are_metres_whatever_the_unit(unit: Unit) -> None:
    """Four points a square metre meet four when their coordinates are feet, and 3.6 do not."""
    foot = float(unit.factor)
    for spacing, outcome in ((0.499, Outcome.CONFORMS), (0.53, Outcome.NONCONFORMING)):
        box = (BOX[0] / foot, BOX[1] / foot, BOX[2] / foot, BOX[3] / foot)
        delivery = Delivery()
        points = make_lattice_points(box, spacing / foot)
        delivery.add("feet.laz", points, crs=make_crs(unit))
        (finding,) = delivery.drive(PointDensity(), FOUR)
        assert finding.outcome is outcome
        assert read_mean(finding) == pytest.approx(1 / spacing**2, rel=0.02)


def test_places_are_told_in_the_file_s_own_unit() -> None:
    """The weakest place of a cloud in feet is given in feet."""
    foot = float(US_SURVEY_FOOT.factor)
    box = (BOX[0] / foot, BOX[1] / foot, BOX[2] / foot, BOX[3] / foot)
    points = make_lattice_points(box, 0.499 / foot)
    hole = (1010 / foot, 2004 / foot, 1014 / foot, 2016 / foot)
    delivery = Delivery()
    delivery.add("feet.laz", leave_out(points, hole), crs=make_crs(US_SURVEY_FOOT))
    (finding,) = delivery.drive(PointDensity(), FOUR)
    assert finding.where.xy == pytest.approx((1012 / foot, 2010 / foot), abs=5 / foot)


def test_the_specification_fills_in_a_unit_that_the_file_does_not_state() -> None:
    """A file without a CRS is read in the unit that was ordered."""
    delivery = Delivery()
    delivery.add("bare.laz", make_lattice_points(BOX, 0.5), crs=None)
    ordered = delivery.drive(PointDensity(), FOUR, specification=make_specification("metre"))
    silent = delivery.drive(PointDensity(), FOUR)
    assert ordered[0].outcome is Outcome.CONFORMS
    assert silent[0].outcome is Outcome.NOT_ASSESSED
    assert silent[0].needs == ("coordinates.unit.horizontal",)


@pytest.mark.parametrize("kind", [CrsKind.GEOGRAPHIC, CrsKind.GEOCENTRIC])
def test_degrees_have_no_square_metres(kind: CrsKind) -> None:
    """A file in degrees is not assessed even where the specification asks for metres."""
    delivery = Delivery()
    delivery.add("globe.laz", make_lattice_points(BOX, 0.5), crs=make_crs(None, kind))
    (finding,) = delivery.drive(PointDensity(), FOUR, specification=make_specification("metre"))
    assert finding.outcome is Outcome.NOT_ASSESSED
    assert finding.needs == ("projected coordinates",)


def test_a_tile_in_another_unit_is_named_and_left_out() -> None:
    """Tiles of one unit are judged together; the odd one is not assessed."""
    delivery = Delivery()
    delivery.add("a.laz", make_lattice_points(BOX, 0.5))
    delivery.add("b.laz", make_lattice_points((1030.0, 2000.0, 1060.0, 2020.0), 0.5))
    delivery.add("c.laz", make_lattice_points(BOX, 0.5), crs=make_crs(US_SURVEY_FOOT))
    findings = delivery.drive(PointDensity(), FOUR)
    assert [(f.outcome, f.subject) for f in findings] == [
        (Outcome.NOT_ASSESSED, "c.laz"),
        (Outcome.CONFORMS, "delivery"),
    ]


def test_a_scatter_without_area_is_inconclusive(monkeypatch: pytest.MonkeyPatch) -> None:
    """Points spread over more blocks than can be kept are named, not counted wrongly."""
    monkeypatch.setattr("lidar_checks.cloud.block_grid.MAX_BLOCKS", 20)
    line = np.arange(0.0, 100_000.0, 1000.0)
    (finding,) = judge(make_points(line, line))
    assert finding.outcome is Outcome.INCONCLUSIVE
    assert "scattered" in finding.sentence


def test_the_tally_keeps_the_laws() -> None:
    """Cutting, order, merging and pickling leave the counts as they are."""
    random = np.random.default_rng(5)
    count = 900
    totals = random.integers(0, 4, count)
    cloud = make_points(
        random.uniform(-90, 90, count),
        random.uniform(-90, 90, count),
        withheld=random.random(count) < 0.1,
        number_of_returns=totals,
        return_number=np.minimum(totals, random.integers(0, 4, count)),
    )
    delivery = Delivery()
    delivery.add("tile.laz", cloud)
    evidence = delivery.make_evidence()
    for counted in ("first-returns", "last-returns", "first-or-only", "all"):
        check_tally_laws(
            PointDensity(),
            [cloud],
            evidence=evidence,
            file=evidence.files[0],
            criteria={**FOUR, "counted": counted},
        )


def test_points_in_files_that_cannot_be_judged_are_passed_over() -> None:
    """The tally of a file in degrees keeps the laws too, and keeps nothing."""
    cloud = make_lattice_points(BOX, 2.0)
    delivery = Delivery()
    delivery.add("globe.laz", cloud, crs=make_crs(None, CrsKind.GEOGRAPHIC))
    evidence = delivery.make_evidence()
    check_tally_laws(
        PointDensity(), [cloud], evidence=evidence, file=evidence.files[0], criteria=FOUR
    )


def test_a_lattice_of_another_step_gives_the_same() -> None:
    """The size of a lattice step changes no cell."""
    points = make_lattice_points(BOX, 0.5)
    fine = Lattice(steps_xy=1_000_000, steps_z=10_000)
    again = PointChunk(
        points.x * 100, points.y * 100, points.z.copy(), fine, {n: points[n] for n in points.names}
    )
    delivery = Delivery()
    delivery.add("fine.laz", again, box=BOX)
    (finding,) = delivery.drive(PointDensity(), FOUR, lattice=fine)
    assert finding.sentence == judge(points)[0].sentence


@pytest.mark.parametrize(("spacing", "density"), [(0.35, 8.0), (0.71, 2.0), (1.41, 0.5)])
def test_published_spacing_and_density(spacing: float, density: float) -> None:
    """Spacing and density as in the USGS Lidar Base Specification 2025 rev. A.

    Glossary: density = 1 / spacing². Table 1: 0.35, 0.71 and 1.41 m go with 8, 2 and 0.5 points
    a square metre; the table rounds to centimetres, so a cloud at exactly the density has an
    unrounded spacing that may be greater than the table's.
    """
    assert round(density**-0.5, 2) == spacing
    exact = make_lattice_points((0.0, 0.0, 120.0, 120.0), density**-0.5)
    (finding,) = judge(exact, min_pts_per_m2=density / 2, cell_m=10.0)
    assert finding.outcome is Outcome.CONFORMS
    assert read_mean(finding) == pytest.approx(density, rel=0.02)


# Open data: counts and areas are those stated for the files beside them.


def measure(path: Path, unit: Unit | None, **criteria: Any) -> Finding:
    """Return the one finding about a real file."""
    delivery = read_open_file(path, unit)
    return delivery.drive(PointDensity(), {"min_pts_per_m2": 0.01, **criteria})[0]


def test_real_file_in_feet(open_file: OpenFile) -> None:
    """`4_6_crop.las`: 23,875 points on 200 by 200 US survey feet are 6.42 a square metre.

    The rim is left out, so the mean inside differs by a few percent.
    """
    path = open_file("las/4_6_crop.las")
    whole = 23_875 / (199.98 * 1200 / 3937) ** 2
    assert whole == pytest.approx(6.42, abs=0.01)
    assert read_mean(measure(path, US_SURVEY_FOOT, counted="all")) == pytest.approx(whole, rel=0.03)
    first = read_mean(measure(path, US_SURVEY_FOOT))
    assert first == pytest.approx(whole * 10_780 / 23_875, rel=0.03)


def test_real_file_of_a_close_range_scanner(open_file: OpenFile) -> None:
    """`plane.laz`: 28,185 points on 2.2 by 2.0 m are about 6,400 a square metre."""
    path = open_file("las/plane.laz")
    finding = measure(path, make_crs().governing.crs.unit, cell_m=0.1, counted="all")
    assert read_mean(finding) == pytest.approx(6400, rel=0.1)


def test_real_files_that_cannot_be_counted(open_file: OpenFile) -> None:
    """Fourth returns only: inconclusive. Return numbers 0: not assessed. Degrees: not assessed."""
    metre = make_crs().governing.crs.unit
    assert measure(open_file("las/hexbin-crop.las"), metre).outcome is Outcome.INCONCLUSIVE
    every = read_mean(measure(open_file("las/hexbin-crop.las"), metre, counted="all"))
    assert every > 38_367 / (293.41 * 201.15)  # the box has large holes, the footprint has not
    assert measure(open_file("las/srs_vertcs.las"), metre).needs == ("return_number",)
    assert measure(open_file("las/epsg_4326.las"), None).needs == ("projected coordinates",)


def test_headers_are_not_needed() -> None:
    """A file without a readable header is judged by the ordered unit."""
    delivery = Delivery()
    delivery.add("a.laz", make_lattice_points(BOX, 0.5), crs=None)
    delivery.files["a.laz"] = dataclasses.replace(delivery.files["a.laz"], header=None)
    (finding,) = delivery.drive(PointDensity(), FOUR, specification=make_specification("metre"))
    assert finding.outcome is Outcome.CONFORMS
    assert make_header().point_format == 6
