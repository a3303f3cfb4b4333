"""Seams from points to findings: shifted tiles are named, real ground is left alone."""

from __future__ import annotations

import dataclasses
import re
from pathlib import Path
from typing import Any

import numpy as np
import pyproj
import pytest
from made_cloud import (
    ORIGIN,
    Delivery,
    Floats,
    Site,
    make_crs,
    make_header,
    make_points,
    make_specification,
    measure_box,
)
from open_data import OpenFile

from ledger.contract.check import Finding, Grade, Outcome
from ledger.crs import describe
from ledger.errors import CrsError
from ledger.model.georeferencing import CrsKind, CrsReading, CrsRecord
from ledger.model.specification import Specification
from ledger.testing import check_tally_laws, take
from ledger.units import METRE, US_SURVEY_FOOT
from lidar_checks.cloud import seam_cause
from lidar_checks.cloud.seams import Seams

EAST, NORTH = ORIGIN


def rolling(x: Floats, y: Floats) -> Floats:
    """Return the rolling ground of a borrow pit."""
    waves = 2.5 * np.sin((x - EAST) / 70) * np.cos((y - NORTH) / 55)
    return np.asarray(214 + 0.03 * (x - EAST) + waves)


def judge(site: Site, **parts: Any) -> list[Finding]:
    """Return what the check finds in a site of metres."""
    return list(site.deliver().drive(Seams(), **parts))


def list_accused(findings: list[Finding]) -> list[str]:
    """Return the tiles with a major finding."""
    return [f.subject for f in findings if f.grade is Grade.MAJOR]


def test_a_good_delivery_conforms_and_says_how_well_it_was_seen() -> None:
    """Rolling ground with 2 cm of noise has no step, and the sentence tells the power."""
    (finding,) = judge(Site(4, 3, 40.0, ground=rolling, noise=0.02))
    assert finding.outcome is Outcome.CONFORMS
    assert finding.sentence.startswith("No tile stands off at 17 of 17 seams; half of them would")
    assert finding.catalogue == ("VD-08",)


@pytest.mark.parametrize("rise", [-31.9, 0.38, -0.12])
def test_a_shifted_tile_is_a_major_of_that_tile_alone(rise: float) -> None:
    """The tile is named with its step, its seams and its place; its neighbours are not."""
    findings = judge(Site(3, 3, 40.0, ground=rolling, noise=0.02, raised={(1, 1): rise}))
    (finding,) = findings
    word = "above" if rise > 0 else "below"
    assert finding.grade is Grade.MAJOR
    assert finding.subject == finding.where.file == "tile_1_1.laz"
    assert f"lies {abs(rise):.2f} m {word} its neighbours along all 4 seams." in finding.sentence
    assert float(finding.observed) == pytest.approx(rise, abs=0.01)
    assert finding.where.xy == pytest.approx((EAST + 60, NORTH + 60), abs=0.2)
    assert finding.remedy


@pytest.mark.parametrize(("rise", "found"), [(0.0497, 0), (0.0503, 1)])
def test_the_least_step_that_counts_is_the_criterion(rise: float, found: int) -> None:
    """Without noise a step just inside 0.05 m conforms and one just outside is found."""
    assert len(list_accused(judge(Site(raised={(1, 1): rise})))) == found


@pytest.mark.parametrize(("limit", "found"), [(0.29, 1), (0.31, 0)])
def test_the_specification_may_ask_for_another_step(limit: float, found: int) -> None:
    """The least step is the customer's to say."""
    findings = judge(Site(raised={(1, 1): 0.3}), criteria={"step_max_m": limit})
    assert len(list_accused(findings)) == found


def test_noise_of_the_seam_itself_hides_a_small_step() -> None:
    """A step within four deviations of a rough seam is not claimed."""
    rough = Site(noise=0.3, raised={(1, 1): 0.2}, size=40.0)
    assert not list_accused(judge(rough))


@pytest.mark.parametrize(("factor", "is_open"), [(4.0, False), (1.0, True)])
def test_a_step_that_grows_along_the_seam_is_below_its_own_scatter(
    factor: float, *, is_open: bool
) -> None:
    """A step from 0 to 0.8 m along one seam has a MAD of 0.2 m, four of which hide its median."""
    site = Site(2, 1, 40.0, ground=lambda x, y: 100 + 0.02 * (y - NORTH) * (x > EAST + 40))
    (finding,) = judge(site, criteria={"mad_factor": factor})
    assert (finding.outcome is Outcome.INCONCLUSIVE) is is_open


@pytest.mark.parametrize(("share", "is_open"), [(0.6, False), (0.5, True)])
def test_a_step_has_to_run_along_enough_of_the_seam(share: float, *, is_open: bool) -> None:
    """A step of 3 m that is seen along 55 % of a seam, the rest too rough, is not claimed at 60."""

    def ground(x: Floats, y: Floats) -> Floats:
        rough = 12 * np.sin(1000 * x) * np.cos(777 * y) * (y > NORTH + 22)
        return 100 + 3.0 * (x > EAST + 40) + rough

    (finding,) = judge(Site(2, 1, 40.0, ground=ground), criteria={"min_share_of_seam": share})
    assert (finding.outcome is Outcome.INCONCLUSIVE) is is_open


@pytest.mark.parametrize(
    ("name", "ground"),
    [
        ("flat", lambda x, y: 100 + 0 * x),
        ("slope of 45 degrees", lambda x, y: 100 + (x - EAST)),
        ("slope across tiles", lambda x, y: 100 + 0.7 * (x - EAST) - 0.7 * (y - NORTH)),
        ("cliff on one tile edge", lambda x, y: 100 + 8.0 * _near_one_edge(x, y)),
        ("cliff inside the strip", lambda x, y: 100 + 8.0 * (x > EAST + 41)),
        ("wall across the seams", lambda x, y: 100 + 3.0 * (np.abs(y - NORTH - 65) < 2)),
        ("steps everywhere", lambda x, y: 100 + 2.0 * np.floor((x - EAST) / 7)),
    ],
)
def test_ground_is_never_accused(name: str, ground: Any) -> None:
    """Whatever the ground does on its own, no tile is said to stand off."""
    findings = judge(Site(3, 3, 40.0, ground=ground, noise=0.02))
    assert {f.outcome for f in findings} <= {Outcome.CONFORMS, Outcome.INCONCLUSIVE}, name
    assert not list_accused(findings), name


def _near_one_edge(x: Floats, y: Floats) -> Floats:
    """Return 1 west of one tile edge, falling to 0 over the tile, so that only it has a cliff."""
    inside = (x < EAST + 80) & (x > EAST + 40) & (y > NORTH + 40) & (y < NORTH + 80)
    return inside * (x - EAST - 40) / 40 * np.minimum(1, np.minimum(y - NORTH - 40, NORTH + 80 - y))


def test_a_cliff_of_8_m_on_one_tile_edge_is_ground() -> None:
    """The way round the cliff shows no step, so the delivery conforms and says so."""
    (finding,) = judge(
        Site(3, 3, 40.0, ground=lambda x, y: 100 + 8.0 * _near_one_edge(x, y), noise=0.02)
    )
    assert finding.outcome is Outcome.CONFORMS
    assert finding.sentence.endswith("steps that are ground, since a way round shows none: 1.")


def _pit(x: Floats, y: Floats) -> Floats:
    """Return a quarry whose faces stand on all edges of one tile and whose floor has a ramp."""
    inside = (x > EAST + 40) & (x < EAST + 80) & (y > NORTH + 40) & (y < NORTH + 80)
    return np.where(inside, 100.0 - 8.0 + 0.03 * (x - EAST - 40), 100.0)


def _benches(x: Floats, y: Floats) -> Floats:
    """Return a quarry in one corner, with faces on two edges of a tile and a floor that falls."""
    inside = (x > EAST + 80) & (y > NORTH + 80)
    return np.where(inside, 100.0 - 8.0 - 0.04 * (x - EAST - 80), 100.0)


@pytest.mark.parametrize("ground", [_pit, _benches])
def test_a_quarry_round_a_tile_is_told_and_not_judged(ground: Any) -> None:
    """Faces of 8 m on several edges of a tile differ from edge to edge: nobody is accused."""
    findings = judge(Site(3, 3, 40.0, ground=ground, noise=0.02))
    assert not list_accused(findings)
    assert {f.outcome for f in findings} <= {Outcome.INCONCLUSIVE, Outcome.CONFORMS}


@pytest.mark.parametrize(
    ("columns", "rows", "tile"), [(2, 2, (1, 1)), (3, 3, (2, 2)), (3, 1, (1, 0))]
)
def test_a_pit_with_a_level_floor_on_two_edges_is_ground(
    columns: int, rows: int, tile: tuple[int, int]
) -> None:
    """Its faces end on both edges, and where they end the tiles meet at one height."""
    west, south = EAST + 40 * tile[0], NORTH + 40 * tile[1]

    def ground(x: Floats, y: Floats) -> Floats:
        wide = 40 if rows == 1 else 28
        inside = (x > west) & (x < west + wide) & (y > south) & (y < south + 28)
        return np.where(inside, 96.0, 100.0)

    (finding,) = judge(Site(columns, rows, 40.0, ground=ground, noise=0.02))
    assert finding.outcome is Outcome.CONFORMS
    assert finding.sentence.endswith("steps that are ground, since a way round shows none: 2.")


@pytest.mark.parametrize("rise", [0.5, -8.0])
def test_a_shifted_tile_in_a_quarry_is_still_found(rise: float) -> None:
    """A tile of wrong height beside a face on one of its edges steps alike at the others."""

    def ground(x: Floats, y: Floats) -> Floats:
        return np.asarray(100.0 + 0.03 * (x - EAST) + 5.0 * (x > EAST + 80) + 0 * y)

    findings = judge(Site(3, 3, 40.0, ground=ground, noise=0.02, raised={(1, 1): rise}))
    assert list_accused(findings) == ["tile_1_1.laz"]


def test_a_cliff_along_all_tiles_is_told_and_not_judged() -> None:
    """A step that no other seam explains is inconclusive, once a seam, with both tiles named."""
    findings = judge(Site(2, 2, ground=lambda x, _: np.where(x > EAST + 20, 108.0, 100.0)))
    assert [f.outcome for f in findings] == [Outcome.INCONCLUSIVE] * 2
    assert findings[0].subject == "tile_0_0.laz and tile_1_0.laz"
    assert "lies 8.00 m below tile_1_0.laz" in findings[0].sentence
    assert findings[0].where.file == "tile_0_0.laz"


@pytest.mark.parametrize("buffer", [-0.8, -0.2, 0.5, 3.0, 5.0])
def test_gaps_and_overlaps_hide_nothing(buffer: float) -> None:
    """Tiles that leave a gap, touch or overlap show the same step."""
    site = Site(3, 3, 40.0, ground=rolling, noise=0.02, raised={(1, 1): 0.3}, buffer=buffer)
    (finding,) = judge(site)
    assert finding.subject == "tile_1_1.laz"
    assert "along all 4 seams" in finding.sentence


def test_thin_clouds_still_show_a_step() -> None:
    """One point a square metre is enough for a step of a quarter metre."""
    for density in (1.0, 2.0, 4.0):
        findings = judge(Site(3, 3, 80.0, density, rolling, 0.02, {(1, 1): 0.25}))
        assert list_accused(findings) == ["tile_1_1.laz"]
        assert "along all 4 seams" in findings[0].sentence


def test_one_tile_has_no_seam_and_conforms() -> None:
    """A single tile must not keep a delivery from being sent."""
    (finding,) = judge(Site(1, 1))
    assert finding.outcome is Outcome.CONFORMS
    assert finding.sentence == "There is one tile only, so there is nothing to compare."


def test_tiles_that_do_not_touch_have_no_seam() -> None:
    """Islands further apart than the limit conform, and the sentence says why."""
    (finding,) = judge(Site(2, 1, buffer=-5.0))
    assert finding.outcome is Outcome.CONFORMS
    assert finding.sentence == "No two of 2 tiles lie within 2 m, so there is no seam to compare."


def test_two_tiles_with_a_step_are_inconclusive() -> None:
    """One seam alone cannot tell a wrong height from a cliff."""
    (finding,) = judge(Site(2, 1, raised={(1, 0): 31.9}))
    assert finding.outcome is Outcome.INCONCLUSIVE
    assert "lies 31.90 m below tile_1_0.laz" in finding.sentence


def test_unread_tiles_leave_the_seams_open() -> None:
    """Where only one of several tiles could be read, no seam was compared, and that is no pass."""
    delivery = Site(3, 1).deliver()
    chunk = delivery.chunks["tile_0_0.laz"]
    (finding,) = Delivery({"tile_0_0.laz": chunk}, delivery.files).drive(Seams())
    assert finding.outcome is Outcome.INCONCLUSIVE
    assert finding.sentence.startswith("Only one of 3 tiles could be read")


def test_empty_and_one_point_tiles_spoil_nothing() -> None:
    """A tile without points, and one of a single point, are passed over."""
    delivery = Site(3, 3, raised={(1, 1): 0.3}).deliver()
    delivery.add("empty.laz", make_points([], []))
    delivery.add("single.laz", make_points([EAST + 30.0], [NORTH + 70.0], 100.0))
    findings = list(delivery.drive(Seams()))
    assert list_accused(findings) == ["tile_1_1.laz"]
    assert len(findings) == 1


def test_a_tile_whose_borders_are_bare_is_named_as_not_judged() -> None:
    """A tile without points near its borders has seams that nobody could judge."""
    delivery = Site(2, 1, 40.0).deliver()
    chunk = delivery.chunks["tile_1_0.laz"]
    box = measure_box(chunk)
    x, y = chunk.x / 10_000, chunk.y / 10_000
    corners = (x == x.min()) | (x == x.max()) | (y == y.min()) | (y == y.max())
    delivery.add("tile_1_0.laz", take(chunk, (x > EAST + 45) | corners), box)
    findings = list(delivery.drive(Seams()))
    assert [f.outcome for f in findings] == [Outcome.INCONCLUSIVE] * 2
    assert "No seam of tile_0_0.laz could be judged" in findings[0].sentence


def test_a_wrong_header_box_is_told() -> None:
    """Where the stated box misses the points, the seams were looked for in the wrong place."""
    delivery = Site(3, 3).deliver()
    chunk = delivery.chunks["tile_1_1.laz"]
    box = measure_box(chunk)
    delivery.add("tile_1_1.laz", chunk, (box[0], box[1], box[2] + 100, box[3]))
    findings = list(delivery.drive(Seams()))
    assert findings[0].outcome is Outcome.INCONCLUSIVE
    assert "is 100.00 m off its points" in findings[0].sentence
    delivery.add("tile_1_1.laz", chunk, header=make_header((float("nan"), 0.0, 1.0, 1.0)))
    assert next(iter(delivery.drive(Seams()))).needs == ("header box",)


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


def test_no_points_are_no_pass() -> None:
    """Without any point read the check says so."""
    (finding,) = Delivery().drive(Seams())
    assert finding.outcome is Outcome.NOT_ASSESSED


def test_half_of_the_tiles_shifted_leaves_it_to_the_records() -> None:
    """Where either half may be wrong, all are told with those words."""
    findings = judge(Site(2, 2, raised={(0, 0): 0.3, (1, 1): 0.3}))
    assert len(list_accused(findings)) == 4
    assert "as many as lie the other way" in findings[0].sentence


def test_a_block_of_stale_tiles_names_the_one_in_its_middle() -> None:
    """A tile all of whose neighbours are shifted with it is named with the files round it."""
    block = {(c, r): -0.5 for c in (1, 2, 3) for r in (1, 2, 3)}
    findings = {f.subject: f for f in judge(Site(6, 5, raised=block))}
    assert len(findings) == 9
    sentence = findings["tile_2_2.laz"].sentence
    assert sentence == (
        "tile_2_2.laz lies 0.50 m below the rest of the delivery, with the files round it; "
        "9 files lie so."
    )


@pytest.mark.parametrize("path", ["tile_1_1.laz", "tile_0_0.laz"])
def test_the_tally_keeps_the_laws(path: str) -> None:
    """Cutting, order, merging and pickling leave strips and box as they are."""
    delivery = Site(3, 3, ground=rolling, noise=0.1).deliver()
    evidence = delivery.make_evidence()
    check_tally_laws(Seams(), [delivery.chunks[path]], evidence=evidence, file=delivery.files[path])


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


def test_findings_do_not_depend_on_the_order_of_files() -> None:
    """Summaries handed over in any order give the same findings."""
    delivery = Site(3, 3, raised={(1, 1): 0.3}, noise=0.02).deliver()
    turned = Delivery(dict(reversed(delivery.chunks.items())), delivery.files)
    assert list(turned.drive(Seams())) == list(delivery.drive(Seams()))


# The cause: h = H + N, held with a geoid height put in by hand.


@pytest.fixture
def geoid(monkeypatch: pytest.MonkeyPatch) -> dict[str, float]:
    """Give a geoid whose height a test can set, at any place."""
    height = {"value": -31.915}
    monkeypatch.setattr(seam_cause, "to_lonlat", lambda _crs, x, y: (x, y))
    monkeypatch.setattr(seam_cause, "sample_geoid", lambda _grid, _lon, _lat: height["value"])
    return height


def name_cause(rise: float, vertical: str | None, **parts: Any) -> str:
    """Return the sentence about a tile raised by `rise`."""
    delivery = Site(raised={(1, 1): rise}).deliver()
    specification = make_specification("metre", vertical=None)
    specification = type(specification).model_validate(
        {"coordinates": {"unit": {"horizontal": "metre"}, "vertical": vertical}}
    )
    given = {"geoid_grid": "geoid.tif", "specification": specification, **parts}
    (finding,) = delivery.drive(Seams(), **given)
    return finding.sentence


@pytest.mark.usefixtures("geoid")
@pytest.mark.parametrize(
    ("rise", "vertical", "cause"),
    [
        (-31.915, "orthometric", "these heights are ellipsoidal (gate ±0.030 m)."),
        (31.915, "orthometric", "the geoid was taken off twice here (gate ±0.030 m)."),
        (31.915, "ellipsoidal", "these heights are orthometric (gate ±0.030 m)."),
        (-31.915, None, "one side has ellipsoidal heights and the other has not"),
        (-31.915, "ellipsoidal", "one side has ellipsoidal heights and the other has not"),
    ],
)
def test_a_step_of_the_geoid_height_is_named(rise: float, vertical: str | None, cause: str) -> None:
    """The step equals N or minus N: which of the two sides that means hangs on the order."""
    assert f"The geoid height here is -31.915 m: {cause}" in name_cause(rise, vertical)


@pytest.mark.usefixtures("geoid")
@pytest.mark.parametrize(("off", "named"), [(0.029, True), (0.032, False)])
def test_the_gate_decides_whether_the_geoid_is_named(off: float, *, named: bool) -> None:
    """A step within 0.03 m of N is named after it, one just outside keeps no cause."""
    sentence = name_cause(-31.915 + off, "orthometric")
    assert ("geoid height" in sentence) is named
    assert "lies 31.8" in sentence or "lies 31.9" in sentence


def test_a_small_geoid_height_names_nothing(geoid: dict[str, float]) -> None:
    """Where N is no larger than the gates, agreeing with it means nothing."""
    geoid["value"] = 0.08
    assert "geoid" not in name_cause(0.08, "orthometric")
    geoid["value"] = 0.10
    assert "geoid" in name_cause(0.10, "orthometric")


@pytest.mark.usefixtures("geoid")
def test_without_a_grid_no_cause_is_named() -> None:
    """The step stands without its cause when no grid was found."""
    assert "geoid" not in name_cause(-31.915, "orthometric", geoid_grid="")


@pytest.mark.usefixtures("geoid")
def test_a_place_outside_the_grid_names_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    """A grid that does not reach the site leaves the step without a cause, and no error."""

    def refuse(_grid: Path, _lon: float, _lat: float) -> float:
        raise CrsError("outside the grid")

    monkeypatch.setattr(seam_cause, "sample_geoid", refuse)
    assert "geoid" not in name_cause(-31.915, "orthometric")


@pytest.mark.parametrize(
    ("grid", "height"), [("us_noaa_g2018p0.tif", -40.4574), ("us_noaa_g2012bp0.tif", -40.4280)]
)
def test_a_real_geoid_is_named(open_file: OpenFile, grid: str, height: float) -> None:
    """A tile lower by the geoid height of Puerto Rico is named after the grid that says so.

    Values of GEOID18 and GEOID12B at 66.46 W 18.33 N from the grids of NOAA as PROJ 9.5 reads
    them; they differ by 2.9 cm, which is inside the gate, so each grid gives its own number.
    """
    crs = describe("EPSG:26919")
    east, north = pyproj.Transformer.from_crs(4269, 26919, always_xy=True).transform(-66.46, 18.33)
    site = Site(raised={(1, 1): height})
    move = np.array([east - EAST - 30, north - NORTH - 30])
    delivery = Delivery()
    for path, chunk in site.deliver().chunks.items():
        x, y = chunk.x / 10_000 + move[0], chunk.y / 10_000 + move[1]
        record = CrsRecord(True, crs)
        reading = CrsReading(record, CrsRecord(False), record)
        delivery.add(path, make_points(x, y, chunk.z / 10_000), crs=reading)
    specification = Specification.model_validate({"coordinates": {"vertical": "orthometric"}})
    grid_path = str(open_file(f"geoid/{grid}"))
    (finding,) = delivery.drive(Seams(), specification=specification, geoid_grid=grid_path)
    stated = re.search(r"geoid height here is (\S+) m: these heights are ellips", finding.sentence)
    assert stated is not None
    assert float(stated[1]) == pytest.approx(height, abs=0.0015)
