"""The one pass: every point counted and handed on, and no gap that looks like a pass."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

import laspy
import numpy as np
import pytest
from counting_checks import Points, audit, by_check, make_evidence
from open_data import OpenFile

from ledger.contract import passing
from ledger.contract.check import Plan
from ledger.contract.evidence import Evidence
from ledger.contract.runner import Runner
from ledger.fingerprint import DIMENSIONS, Fingerprint
from ledger.lasheader import read_las_header
from ledger.lattice import DEGREE_LATTICE, LENGTH_LATTICE, choose_common_lattice
from ledger.model.ask import NoProgress
from ledger.model.audit import WHOLE_DELIVERY
from ledger.model.finding import Finding, Outcome
from ledger.points import read_points
from ledger.testing import Layout, SurveyBuilder


class _Total(Points):
    """Passes the delivery as a whole, whatever it saw of it."""

    id = "total"

    def finish(
        self, plan: Plan, summaries: Mapping[str, Any], evidence: Evidence
    ) -> Iterable[Finding]:
        total = sum(points for points, _ in summaries.values())
        yield self.conforms(WHOLE_DELIVERY, "All is well.", observed=str(total))


# The pass.


def test_every_point_is_handed_on_once(survey: SurveyBuilder, monkeypatch) -> None:
    """A check sees every point of every file, as laspy does, in slices of bounded size."""
    monkeypatch.setattr(passing, "CHUNK_POINTS", 1000)
    monkeypatch.setattr(passing, "SLICE_POINTS", 300)
    findings, readings = audit([Points()], survey.paths)
    for path in survey.paths:
        points = len(laspy.read(path).points)
        observed = next(f.observed for f in findings if f.subject == path.name)
        assert observed == f"{points} 300"
        assert readings[path.name].facts.decoded == points


def test_slices_do_not_change_what_is_found(survey: SurveyBuilder, monkeypatch) -> None:
    """Counts, box and fingerprint are the same in one slice and in many."""
    _, whole = audit([Points()], survey.paths)
    monkeypatch.setattr(passing, "CHUNK_POINTS", 777)
    monkeypatch.setattr(passing, "SLICE_POINTS", 50)
    _, cut = audit([Points()], survey.paths)
    assert whole == cut


def test_census_agrees_with_laspy(open_file: OpenFile) -> None:
    """Count, counts by return and box are those of laspy 2.7, on open files of all formats."""
    names = ("1.2-with-color.las", "test1_4.las", "plane.laz", "autzen.las", "1815.las")
    paths = [open_file(f"las/{name}") for name in names]
    _, readings = audit([], paths)
    for path in paths:
        las = laspy.read(path)
        facts = readings[path.name].facts
        returns = np.bincount(np.asarray(las.return_number), minlength=16)
        assert facts.decoded == len(las.points)
        assert facts.by_return == tuple(returns.tolist())
        for axis, low, high in zip("xyz", facts.minimum or (), facts.maximum or (), strict=True):
            values = np.asarray(las[axis])
            assert low == pytest.approx(values.min(), abs=5.1e-5)
            assert high == pytest.approx(values.max(), abs=5.1e-5)


def test_fingerprint_is_that_of_the_file_alone(survey: SurveyBuilder) -> None:
    """The pass gives the fingerprint that the file has by itself, on its own lattice."""
    _, readings = audit([Points()], survey.paths)
    path = survey.paths[0]
    alone = Fingerprint(LENGTH_LATTICE)
    for chunk in read_points(path, read_las_header(path), LENGTH_LATTICE, DIMENSIONS):
        alone.add(chunk)
    assert readings[path.name].fingerprint == alone.value()
    assert readings[path.name].fingerprint.full


def test_degrees_among_metres_keep_their_fingerprint(tmp_path: Path, open_file: OpenFile) -> None:
    """A file in degrees has the same fingerprint alone and in a delivery of files in metres."""
    degrees = open_file("las/epsg_4326.las")
    assert choose_common_lattice([read_las_header(degrees)]) == DEGREE_LATTICE
    metres = SurveyBuilder(tmp_path / "out", Layout(compressed=False)).paths[0]
    _, alone = audit([Points()], [degrees])
    _, mixed = audit([Points()], [degrees, metres])
    assert mixed[degrees.name].fingerprint == alone[degrees.name].fingerprint


def test_progress_counts_points(survey: SurveyBuilder) -> None:
    """Progress is told the points that the headers state, and then each of them."""
    seen: list[tuple[str, int, str] | int] = []

    class Watch(NoProgress):
        def start(self, label: str, total: int, unit: str) -> None:
            seen.append((label, total, unit))

        def advance(self, amount: int) -> None:
            seen.append(amount)

    evidence = make_evidence(survey.paths)
    Runner([]).read_points(evidence, {path.name: path for path in survey.paths}, Watch())
    assert seen[0] == ("reading points", survey.count_points(), "points")
    assert sum(amount for amount in seen if isinstance(amount, int)) == survey.count_points()


# What cannot be read.


@pytest.mark.parametrize("compressed", [False, True])
def test_a_damaged_file_is_no_pass_and_stops_no_other(tmp_path: Path, compressed: bool) -> None:
    """A cut file has a fault and is *not assessed* by every check of points; the others go on."""
    survey = SurveyBuilder(tmp_path / "out", Layout(compressed=compressed))
    bad = survey.paths[1].name
    survey.cut_share(1, 0.6)
    findings, readings = audit([Points(), _Total()], survey.paths)
    assert readings[bad].facts.fault
    assert readings[bad].fingerprint is None
    assert all(reading.facts.fault == "" for path, reading in readings.items() if path != bad)
    assert len(by_check(findings, "points-counted")) == len(survey.paths)
    for name in ("points-counted", "total"):
        gap = next(f for f in by_check(findings, name) if f.subject == bad)
        assert gap.outcome is Outcome.NOT_ASSESSED
        assert gap.needs[0].startswith("points: ")
        assert gap.where.file == bad


def test_a_file_without_header_is_not_assessed(survey: SurveyBuilder) -> None:
    """A file whose header cannot be read is *not assessed* by every check of points."""
    survey.bad_signature(0)
    findings, readings = audit([Points()], survey.paths)
    bad = survey.paths[0].name
    assert bad not in readings
    assert next(f for f in findings if f.subject == bad).outcome is Outcome.NOT_ASSESSED


def test_where_nothing_could_be_read_nothing_conforms(survey: SurveyBuilder) -> None:
    """With every file damaged no check may speak for the delivery."""
    for tile in range(len(survey.paths)):
        survey.bad_signature(tile)
    findings, _ = audit([_Total()], survey.paths)
    assert {finding.outcome for finding in findings} == {Outcome.NOT_ASSESSED}
    assert len(findings) == len(survey.paths)


def test_a_check_that_tells_of_the_gap_itself_is_not_doubled(survey: SurveyBuilder) -> None:
    """Where the check itself says *not assessed* of a file, the runner does not repeat it."""
    survey.bad_signature(0)

    class Careful(Points):
        id = "careful"

        def finish(self, plan: Any, summaries: Any, evidence: Evidence) -> Iterable[Finding]:
            for file in evidence.files:
                if file.path not in summaries:
                    yield self.not_assessed(file.path, "Not seen.", ("points",))
                else:
                    yield self.conforms(file.path, "Seen.")

    findings, _ = audit([Careful()], survey.paths)
    assert len(findings) == len(survey.paths)


def test_a_field_that_the_format_lacks_is_not_assessed(tmp_path: Path) -> None:
    """Point format 0 has no GPS time (LAS 1.4 R15, table 7): not assessed, and named so."""
    survey = SurveyBuilder(tmp_path / "out", Layout(compressed=False))
    survey.set_layout(0, version="1.2", point_format=0, crs="EPSG:6346", records="geotiff")

    class Times(Points):
        id = "times"
        dimensions = frozenset({"gps_time"})

    class Maybe(Points):
        id = "maybe"
        optional_dimensions = frozenset({"gps_time"})

    findings, _ = audit([Times(), Maybe()], survey.paths)
    bad = survey.paths[0].name
    gap = next(f for f in by_check(findings, "times") if f.subject == bad)
    assert gap.needs == ("gps_time: point format 0 does not hold it",)
    assert len(by_check(findings, "times")) == len(survey.paths)
    assert {f.outcome for f in by_check(findings, "maybe")} == {Outcome.CONFORMS}
