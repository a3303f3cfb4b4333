"""The checks of clouds in the real pass: files on disk, decoded, sliced and judged."""

from __future__ import annotations

import hashlib
from pathlib import Path
from typing import Any

import pytest

from ledger.contract import passing
from ledger.contract.check import Finding, Grade, Outcome, PointCheck
from ledger.contract.enabled import EnabledCheck
from ledger.contract.evidence import DeliveredFile, Evidence
from ledger.contract.runner import Runner
from ledger.crs import read_crs
from ledger.lasheader import read_las_header
from ledger.lattice import choose_common_lattice
from ledger.model.ask import NoProgress
from ledger.model.audit import Plugin
from ledger.model.specification import Specification
from ledger.testing import Layout, Scene, SurveyBuilder
from lidar_checks.cloud.classification import Classification
from lidar_checks.cloud.gps_time_kind import GpsTimeKind
from lidar_checks.cloud.point_density import PointDensity
from lidar_checks.cloud.return_numbers import ReturnNumbers
from lidar_checks.cloud.seams import Seams

ASKED: dict[str, dict[str, Any]] = {
    "point-density": {"min_pts_per_m2": 6.0},
    "classification": {"required": [2], "allowed": [1, 2, 5, 7]},
}
CHECKS: tuple[PointCheck, ...] = (
    Classification(),
    GpsTimeKind(),
    PointDensity(),
    ReturnNumbers(),
    Seams(),
)
SCENE = Scene(columns=3, rows=3, noise=0.01)
METRES = {"horizontal": "metre", "vertical": "metre"}
TILE = "tile_1_1"


def enable(check: PointCheck) -> EnabledCheck:
    """Return a check with the criteria of the job."""
    section = ASKED.get(check.id, {})
    values = {name: tuple(v) if isinstance(v, list) else v for name, v in section.items()}
    criteria = check.criteria.model_validate(values)
    return EnabledCheck(check, Plugin("here", "1", "ab", "here"), criteria)


def describe(path: Path) -> DeliveredFile:
    """Return a file with its header and CRS records."""
    content = path.read_bytes()
    header = read_las_header(path)
    digest = hashlib.sha256(content).hexdigest()
    return DeliveredFile(
        path.name, digest, len(content), "points", header=header, crs=read_crs(header)
    )


def audit(survey: SurveyBuilder) -> list[Finding]:
    """Return what does not conform."""
    files = tuple(describe(path) for path in survey.paths)
    evidence = Evidence(
        folder="out",
        specification=Specification.model_validate({"coordinates": {"unit": METRES}}),
        files=files,
        lattice=choose_common_lattice(file.header for file in files if file.header is not None),
    )
    runner = Runner([enable(check) for check in CHECKS])
    runner.judge_records(evidence)
    runner.read_points(evidence, {path.name: path for path in survey.paths}, NoProgress())
    found = runner.judge_all(evidence)
    assert {finding.check for finding in found} == {check.id for check in CHECKS}
    return [finding for finding in found if finding.outcome is not Outcome.CONFORMS]


@pytest.fixture
def survey(tmp_path: Path) -> SurveyBuilder:
    """Give a good survey of nine tiles, stored without compression."""
    return SurveyBuilder(tmp_path / "out", Layout(compressed=False), SCENE)


@pytest.mark.parametrize(
    "layout",
    [
        Layout(compressed=False),
        Layout(),
        Layout(version="1.2", point_format=3),
        Layout(version="1.3", point_format=1, compressed=False),
        Layout(crs="EPSG:2903+6360", compressed=False),
    ],
)
def test_a_good_survey_has_no_finding(tmp_path: Path, layout: Layout) -> None:
    """Whatever version, point format, compression and unit, a good survey conforms.

    The scene has 8 pulses a square unit, so that in feet there are 86 a square metre.
    """
    in_feet = "2903" in layout.crs
    scene = Scene(columns=3, rows=3, tile_size=60.0, density=0.4) if in_feet else SCENE
    assert audit(SurveyBuilder(tmp_path / "out", layout, scene)) == []


def test_slices_change_no_finding(survey: SurveyBuilder, monkeypatch: pytest.MonkeyPatch) -> None:
    """Points handed on in small slices give the same findings to the letter."""
    survey.shift_heights(TILE, 0.3).thin("tile_0_0", 0.4).coarse_times("tile_2_2")
    whole = audit(survey)
    monkeypatch.setattr(passing, "CHUNK_POINTS", 777)
    monkeypatch.setattr(passing, "SLICE_POINTS", 61)
    assert audit(survey) == whole
    assert len(whole) == 3


@pytest.mark.parametrize("dz", [-31.9, 0.1])
def test_a_shifted_tile(survey: SurveyBuilder, dz: float) -> None:
    """A tile raised or lowered is one major of that tile."""
    (finding,) = audit(survey.shift_heights(TILE, dz))
    assert (finding.check, finding.grade) == ("seams", Grade.MAJOR)
    assert finding.subject == finding.where.file == f"{TILE}.las"
    assert float(finding.observed) == pytest.approx(dz, abs=0.01)


def test_a_thinned_tile(survey: SurveyBuilder) -> None:
    """A tile with two fifths of its points is a minor of the delivery, at that tile."""
    (finding,) = audit(survey.thin(TILE, 0.4))
    assert (finding.check, finding.grade) == ("point-density", Grade.MINOR)
    assert finding.where.file == f"{TILE}.las"


def test_lost_returns(survey: SurveyBuilder) -> None:
    """Return numbers of 0 are observed, and the density of that tile is not assessed."""
    found = {finding.check: finding for finding in audit(survey.zero_returns(TILE))}
    assert found["return-numbers"].grade is Grade.OBSERVATION
    assert found["point-density"].outcome is Outcome.NOT_ASSESSED
    assert set(found) == {"return-numbers", "point-density"}


def test_lost_times(survey: SurveyBuilder) -> None:
    """Zero, coarse and mislabelled times are observed, each in its tile."""
    survey.all_times_zero("tile_0_0").coarse_times("tile_0_1").week_times("tile_0_2")
    survey.time_flag("tile_1_0", adjusted=False)
    found = audit(survey)
    assert [finding.subject for finding in found] == [
        "tile_0_0.las",
        "tile_0_1.las",
        "tile_0_2.las",
        "tile_1_0.las",
    ]
    assert {finding.grade for finding in found} == {Grade.OBSERVATION}


def test_a_format_without_time_is_observed_and_not_a_gap(tmp_path: Path) -> None:
    """Point format 2 has no GPS time: an observation a tile, and every check has its say."""
    layout = Layout(version="1.2", point_format=2, compressed=False)
    found = audit(SurveyBuilder(tmp_path / "out", layout, SCENE))
    assert {(finding.check, finding.grade) for finding in found} == {
        ("gps-time-kind", Grade.OBSERVATION)
    }


def test_wrong_classes(survey: SurveyBuilder) -> None:
    """A class that is not allowed and an unclassified tile are minors of their files."""
    survey.reclassify("tile_0_0", 5, 6).reclassify("tile_0_1", None, 0)
    found = audit(survey)
    assert [(f.subject, f.check, f.grade) for f in found] == [
        ("tile_0_0.las", "classification", Grade.MINOR),
        ("tile_0_1.las", "classification", Grade.MINOR),
    ]


def test_an_empty_tile_spoils_nothing(survey: SurveyBuilder) -> None:
    """A valid file without points has no finding of these checks."""
    assert audit(survey.empty_tile("tile_2_2")) == []


def test_a_cut_file_is_not_assessed_and_the_others_are(survey: SurveyBuilder) -> None:
    """A file that ends early is left to its own finding; the other tiles are still judged."""
    survey.shift_heights(TILE, 0.3).cut_on_record("tile_0_0", 5)
    found = audit(survey)
    gaps = {f.check for f in found if f.subject == "tile_0_0.las"}
    assert gaps == {check.id for check in CHECKS}
    assert [f.subject for f in found if f.grade is Grade.MAJOR] == [f"{TILE}.las"]


def test_withheld_points_do_not_make_up_a_density(survey: SurveyBuilder) -> None:
    """Two thirds of a tile's points withheld leave it too thin."""
    (finding,) = audit(survey.set_flag(TILE, "withheld", 0.66))
    assert (finding.check, finding.where.file) == ("point-density", f"{TILE}.las")


def test_a_wrong_header_box_is_told_by_the_seams(survey: SurveyBuilder) -> None:
    """A stated box 100 m too wide leaves the tile's seams open, and says so."""
    found = audit(survey.wrong_box(TILE))
    assert {(f.check, f.outcome) for f in found} == {("seams", Outcome.INCONCLUSIVE)}
    assert any("100.00 m off its points" in f.sentence for f in found)
