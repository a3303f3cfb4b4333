"""What limits the naming of causes: records that are missing, points left out, patterns."""

from __future__ import annotations

import math
from dataclasses import replace
from decimal import Decimal
from pathlib import Path

import numpy as np
import pyproj
import pytest
from made_residuals import (
    ACCEPTED,
    ANTENNA_M,
    FRAME_SHIFT,
    GEOID_A,
    GEOID_B,
    GRADIENT,
    REJECTED,
    make_residuals,
    observe,
)
from named_cause import Tell, write_small

from ledger.contract.check import Finding, Grade, Outcome, Plan
from ledger.contract.evidence import Evidence
from ledger.contract.figures import Figure, require_figure
from ledger.model.artefact import Role
from ledger.model.fieldlogs import BaseLog, FieldLogs, LogFile
from ledger.model.jobrecords import JobRecords
from ledger.model.known import KnownValue
from ledger.model.process import Decision, Input, Process
from ledger.model.sitegeoid import SiteGeoid
from ledger.testing import (
    TABLE_SPECIFICATION,
    Layout,
    Scene,
    SurveyBuilder,
    make_point,
    make_table,
    run_check,
    spread_points,
)
from lidar_checks.ground import named_cause
from lidar_checks.ground.causes.gather import gather
from lidar_checks.ground.causes.predict import predict
from lidar_checks.ground.named_cause import NamedCause, NamedCauseCriteria


def test_missing_records_are_told(evidence: Evidence) -> None:
    """Without grids, flights, rigs and logs each prediction that is left out has a reason."""
    bare = replace(
        evidence, geoid_sha256="", geoid_grid="", geoids={}, flights=(), rigs=(), logs=FieldLogs()
    )
    facts = gather(observe(ACCEPTED), bare)
    assert facts.grid is None
    assert facts.tell_missing("frames") == "no flight of this delivery says when it took off"
    reasons = {each.fact for each in facts.missing}
    assert {"grid", "other_grids", "receiver_m", "frames", "drifts", "antennas", "arms"} <= reasons


def test_a_grid_that_cannot_be_read_is_told(evidence: Evidence, tmp_path: Path) -> None:
    """A registered file that is no grid is left out by name, and the others go on."""
    words = tmp_path / "notes.gtx"
    words.write_text("no grid", encoding="ascii")
    geoids = {**evidence.geoids, "f" * 64: SiteGeoid("f" * 64, str(words))}
    predictions = predict(gather(observe(ACCEPTED), replace(evidence, geoids=geoids)))
    told = [each.why for each in predictions.left_out if each.what == "another geoid grid"]
    assert len(told) == 1
    assert "notes.gtx" in told[0]
    assert any(each.id.startswith("other-geoid") for each in predictions.candidates)


def test_without_a_take_off_the_day_of_the_audit_stands(evidence: Evidence) -> None:
    """A folder that no run made has frames, too: a year moves them by centimetres."""
    bare = replace(evidence, flights=(), job=JobRecords(time="2026-11-27T01:00:00Z"))
    facts = gather(observe(ACCEPTED), bare)
    (frame,) = facts.frames
    assert frame.shift[0] == pytest.approx(FRAME_SHIFT, abs=0.03)
    assert "on the day of the audit" in frame.operation
    assert facts.projection is not None


def test_facts_of_the_job(evidence: Evidence) -> None:
    """Numbers are those of the place: projection by pyproj, frame by a registered operation.

    k 0.99963361 and convergence 0.374 degrees at 38.596 N 80.400 W in UTM zone 17 (PROJ 9.5.1); the
    frame shift by EPSG operation 10334 lies within 2 cm of (-0.77, +0.95, -1.26) m.
    """
    facts = gather(observe(ACCEPTED), evidence)
    assert facts.grid is not None
    assert facts.grid.heights == pytest.approx(GEOID_A, abs=0.001)
    assert facts.other_grids[0].heights == pytest.approx(GEOID_B, abs=0.001)
    assert facts.projection is not None
    assert facts.projection.scale == pytest.approx(0.99963361, abs=2e-7)
    assert np.degrees(facts.projection.convergence_rad) == pytest.approx(0.374, abs=0.002)
    (frame,) = facts.frames
    assert (frame.frame, frame.is_recorded) == ("ITRF2020", False)
    assert frame.shift[0] == pytest.approx(FRAME_SHIFT, abs=0.02)
    (drift,) = facts.drifts
    assert np.hypot(*drift.shift[0, :2]) == pytest.approx(0.017 * 16.36, abs=0.02)
    assert facts.antennas[0].vertical_m == ANTENNA_M
    assert (facts.arms[0].aircraft_m, facts.arms[0].right) == (0.231, "aircraft")
    assert facts.receiver_m == pytest.approx(-31.2)


def _make_base_log(off: tuple[float, float, float]) -> BaseLog:
    """Return a log of a base at mark QM1, 250 m above the geoid, with a shifted position."""
    east, north, height = 552_300.0 + off[0], 4_272_100.0 + off[1], 250.0 - 31.912 + off[2]
    way = pyproj.Transformer.from_crs("EPSG:6346", "EPSG:6318", always_xy=True)
    lon, lat = way.transform(east, north)
    to_xyz = pyproj.Transformer.from_crs("EPSG:6319", "EPSG:6317", always_xy=True)
    position = tuple(Decimal(f"{part:.4f}") for part in to_xyz.transform(lon, lat, height))
    assert len(position) == 3
    return BaseLog(LogFile("raw/base/QM1.26o", "", "base-log", flight="F1"), position_m=position)


@pytest.mark.parametrize("off", [(1.2, -0.8, 2.1), (0.01, 0.01, 0.01)])
def test_a_base_off_its_mark(tell: Tell, evidence: Evidence, off: tuple[float, ...]) -> None:
    """A base whose log says another place than its mark moves the cloud by as much.

    Positions are made geocentric by pyproj. Nearer than 3 cm a base stood on its mark.
    """
    (flight,) = evidence.flights
    card = replace(flight, values={**flight.values, "flight.base_mark": KnownValue("qm1")})
    mark = make_table([make_point("QM1", 552_300.0, 4_272_100.0, 250.0)], kind="control")
    logs = FieldLogs(bases=(_make_base_log((off[0], off[1], off[2])),))
    shift = np.array(off)
    noise = ACCEPTED - ACCEPTED.mean()
    residuals = make_residuals(
        noise + shift[2] - GRADIENT @ shift[:2], dx=shift[0] + noise, dy=shift[1] - noise
    )
    changes = {"flights": (card,), "tables": (make_table(()), mark), "logs": logs}
    (found,) = tell(residuals, **changes)
    if off[0] > 1:
        assert found.catalogue == ("GN-01",)
        assert "not those of mark QM1" in found.sentence
    else:
        assert found.outcome is Outcome.CONFORMS


def test_vegetation_is_left_out(tell: Tell) -> None:
    """Points in tall grass, 12 cm high by the grass, are no offset of the cloud."""
    grass = [
        replace(each, dz=0.12, stratum="tall grass", id=f"V{number}")
        for number, each in enumerate(make_residuals(ACCEPTED))
    ]
    (found,) = tell([*make_residuals(ACCEPTED), *grass])
    assert found.outcome is Outcome.CONFORMS
    assert "of 14 checkpoints" in found.sentence
    (none,) = tell(grass)
    assert none.outcome is Outcome.NOT_ASSESSED


def test_an_exchanged_pair_is_said_to_be_left_out(tell: Tell) -> None:
    """Two heights in each other's rows, 3 m apart: a blunder by name, and no part of the mean."""
    points = make_residuals(ACCEPTED)
    for place, height, off in ((0, 28.0, -3.0), (5, 25.0, 3.0)):
        points[place] = replace(points[place], height_m=height, dz=ACCEPTED[place] + off)
    (found,) = tell(points)
    assert "12 checkpoints" in found.sentence
    assert "Left out as outliers: C01, C06." in found.sentence


def test_points_listed_twice_count_once(tell: Tell) -> None:
    """The same table sent again proves nothing more; one that contradicts it leaves no point."""
    points = make_residuals(REJECTED)
    again = [replace(each, table="control/again.csv", id=f"X{each.id}") for each in points]
    assert [each.sentence for each in tell([*points, *again])] == [
        each.sentence for each in tell(points)
    ]
    other = [replace(each, dz=0.0) for each in again]
    (none,) = tell([*points, *other])
    assert none.outcome is Outcome.NOT_ASSESSED
    assert "28 contradict another height of the same spot" in none.sentence


def test_points_that_a_run_was_fitted_to_say_nothing_of_causes(
    tell: Tell, evidence: Evidence
) -> None:
    """The cloud lies 0 m from four points of control: the mean stays that of the other ten.

    With the four the mean of the rejected run would be ten fourteenths of the geoid height.
    """
    points = make_residuals(REJECTED)
    fitted = [replace(each, dz=0.0) for each in points[:4]]
    twins = [
        replace(each, id=f"K{n}", kind="control", table="control/control.csv")
        for n, each in enumerate(fitted)
    ]
    control = make_table((), kind="control", path="control/control.csv")
    tables = (make_table(()), replace(control, sha256="d" * 64))
    run = Process(
        "R1", "run", "", 3, "2026-05-14T09:00:00Z", "technician", Decision.ACCEPTED, 3, "",
        {"run.control_used": KnownValue(True)}, (Input(sha256="d" * 64, role=Role.CONTROL),),
    )  # fmt: skip
    records = {"tables": tables, "processes": (run,)}
    found = tell([*fitted, *points[4:], *twins], **records)
    alone = tell(points[4:], **records)
    assert [each.sentence for each in found] == [each.sentence for each in alone]
    assert found[0].catalogue == ("VD-01",)
    (none,) = tell([*fitted, *twins], **records)
    assert none.outcome is Outcome.NOT_ASSESSED
    assert "Of 4 checkpoints 4 were control." in none.sentence


def test_two_causes_together(tell: Tell) -> None:
    """Both are told in one sentence, the larger first, and both failures stand in the finding."""
    residuals = make_residuals(REJECTED - ANTENNA_M)
    wrong = Finding("base-height", Outcome.NONCONFORMING, "F1", "So.", grade=Grade.MAJOR)
    (found,) = tell(residuals, results={"base-height": (wrong,)})
    assert found.catalogue == ("VD-01", "GN-02")
    assert "; the rest of -1.519 m in height equals minus the antenna height" in found.sentence
    assert "Without them the rest is mean +0.004 m" in found.sentence
    (possible,) = tell(residuals)
    assert possible.catalogue == ("VD-01", "GN-02")
    assert "Two causes together fit it, and nothing tells whether it is so" in possible.sentence


def test_a_pattern(tell: Tell) -> None:
    """A cloud that is turned by the convergence, 0.374 degrees clockwise, is told as such."""
    places = observe(ACCEPTED).plan
    noise = ACCEPTED - ACCEPTED.mean()
    turned = math.radians(0.374) * np.column_stack([places[:, 1], -places[:, 0]])
    residuals = make_residuals(ACCEPTED, dx=turned[:, 0] + noise, dy=turned[:, 1] + noise)
    told = tell(residuals, criteria={"offset_min_m": 0.05})
    (found,) = [each for each in told if each.outcome is Outcome.NONCONFORMING]
    assert found.catalogue == ("CR-08", "MB-09")
    assert "aligned to true north" in found.sentence
    assert (found.unit, found.observed[:5]) == ("deg", "-0.37")


@pytest.mark.parametrize("tilt", [0.001, -0.002])
def test_a_tilt_without_an_offset_is_told(
    evidence: Evidence, monkeypatch: pytest.MonkeyPatch, tilt: float
) -> None:
    """A cloud that tilts about the middle of the points keeps its mean; the tilt is told."""
    noise = ACCEPTED - ACCEPTED.mean()
    east = observe(ACCEPTED).plan[:, 0]
    for height, said in ((noise + tilt * (east - east.mean()), True), (noise, False)):
        residuals = make_residuals(height)
        monkeypatch.setattr(named_cause, "list_residuals", lambda *_, r=residuals: tuple(r))
        plan = Plan(NamedCauseCriteria(), evidence.lattice)
        told = list(NamedCause().finish(plan, {}, evidence))
        figures = {each.name: each for each in told if isinstance(each, Figure)}
        assert ("tilt-east" in figures) is said
        if said:
            found = figures["tilt-east"]
            require_figure(NamedCause.id, found)
            assert float(found.value) == pytest.approx(tilt, abs=0.0003)
            assert f"change by {1000 * float(found.value):+.2f} mm a metre to the east" in (
                found.sentence
            )


@pytest.mark.parametrize("tilt", [0.0, 0.001])
def test_a_tilt_is_told_where_nothing_has_power(
    evidence: Evidence, monkeypatch: pytest.MonkeyPatch, tmp_path: Path, tilt: float
) -> None:
    """It makes the gates so wide that a small number fits: that hides no tilt."""
    small = write_small(tmp_path)
    given = replace(
        evidence,
        geoid_sha256=small.sha256,
        geoid_grid=small.path,
        geoids={small.sha256: small},
        logs=FieldLogs(),
    )
    east = observe(ACCEPTED).plan[:, 0]
    off = 0.04 + 150 * tilt
    heights = ACCEPTED - ACCEPTED.mean() + off + tilt * (east - east.mean())
    monkeypatch.setattr(named_cause, "list_residuals", lambda *_: make_residuals(heights))
    told = list(NamedCause().finish(Plan(NamedCauseCriteria(), given.lattice), {}, given))
    (whole,) = [each for each in told if isinstance(each, Finding)]
    assert "too little to tell at this place" in whole.sentence
    assert any(each.name == "tilt-east" for each in told if isinstance(each, Figure)) is (tilt > 0)


@pytest.mark.parametrize("swapped", [True, False])
def test_checkpoints_off_the_cloud(tmp_path: Path, *, swapped: bool) -> None:
    """Axes the wrong way round are told where they would bring all checkpoints onto the cloud."""
    scene = Scene(columns=2, rows=2, relief=0.2, noise=0.005)
    survey = SurveyBuilder(tmp_path / "out", Layout(), scene)
    points = [
        replace(each, east=each.north, north=each.east)
        if swapped
        else replace(each, east=each.east + 5000)
        for each in spread_points(scene)
    ]
    (found,) = run_check(NamedCause(), survey, TABLE_SPECIFICATION, tables=(make_table(points),))
    if swapped:
        assert (found.grade, found.catalogue) == (Grade.MAJOR, ("CR-07",))
        assert "12 of them would lie on it if easting and northing" in found.sentence
    else:
        assert found.outcome is Outcome.INCONCLUSIVE
        assert "no known mistake would bring them onto it" in found.sentence
