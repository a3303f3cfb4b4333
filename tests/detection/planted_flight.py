"""Errors in base logs, position logs and trajectories."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from decimal import Decimal
from pathlib import Path
from typing import Any

import numpy as np
from made_cloud import make_header
from made_logs import (
    READ,
    TAKEOFF,
    Flown,
    float_from,
    judge_logs,
    make_base,
    make_log,
    make_track,
)
from made_raw import make_flight
from made_records import READING
from planted import Look, Planted, record

from ledger.contract.check import Finding
from ledger.contract.evidence import Evidence
from ledger.demo.geoids import write_geoids
from ledger.model.artefact import FileRecord, Output
from ledger.model.fieldlogs import Gap, Series
from ledger.model.known import KnownValue
from ledger.model.lineage import Custody, CustodyState, Line, MatchedBy
from ledger.model.process import Decision, Input, Process
from ledger.testing import drive_check, make_file
from lidar_checks.flight.base_antenna import BaseAntenna
from lidar_checks.flight.base_change import BaseChange
from lidar_checks.flight.base_epochs import BaseEpochs
from lidar_checks.flight.base_place import BasePlace
from lidar_checks.flight.clock_offset import ClockOffset
from lidar_checks.flight.fix_quality import FixQuality
from lidar_checks.flight.flown_as_planned import FlownAsPlanned
from lidar_checks.flight.path_pairs import PathPairs
from lidar_checks.flight.receiver_geoid import ReceiverGeoid
from lidar_checks.flight.sky_quality import SkyQuality
from lidar_checks.flight.start_up import StartUp
from lidar_checks.flight.track_jumps import TrackJumps
from lidar_checks.flight.track_times import TrackTimes
from lidar_checks.flight.trajectory_run import TrajectoryRun

_LOGGED = Flown().seconds
_OTHER = Flown(lines=3, spacing=60.0, length=410.0, cross=90.0, seed=4)
_SITE = make_file(
    "tile_01.laz", header=make_header((552_000.0, 4_272_000.0, 552_480.0, 4_272_320.0)), crs=READING
)


def _base(**parts: Any) -> Evidence:
    return judge_logs(make_base(**parts), files=(_SITE,))


def _hole(seconds: float) -> Evidence:
    """Return a base log with one hole in the middle of the flight."""
    gap = Gap(TAKEOFF + 100, seconds)
    return _base(gaps=(gap,), longest_gap_s=seconds, missing=round(seconds) - 1)


def _base_at(degrees: float) -> Evidence:
    """Return a base that stands some degrees of latitude north of the site."""
    # 38.5964 N and so much more, 80.4001 W, 180 m: computed with PROJ.
    places = {
        0.08: ("831499.4", "-4916174.7", "3964447.3"),
        0.10: ("831268.0", "-4914806.3", "3966180.4"),
        0.44: ("827318.1", "-4891452.5", "3995569.4"),
        0.46: ("827084.8", "-4890073.4", "3997293.8"),
    }
    x, y, z = (Decimal(text) for text in places[degrees])
    return _base(position_m=(x, y, z))


def _lag(late: float, **parts: Any) -> Evidence:
    """Return a log and a trajectory, the trajectory late by some seconds."""
    return judge_logs(make_log(), make_track(late=late, **parts))


def _fix(seconds: float) -> Evidence:
    return judge_logs(make_log(quality=float_from(50, seconds)))


def _loose(share: float) -> Evidence:
    """Return a log that is float for a share of the seconds of each line, now and then."""
    return judge_logs(make_log(quality=lambda time: 4.0 + ((time % 25) < share * 25)))


def _sky(field: str, poor: float, share: float) -> Evidence:
    """Return a log that is poor in one thing for a share of its seconds."""
    good = {"satellites": 18.0, "hdop": 0.7, "pdop": 1.3, "age_s": 1.0, "sigma_m": 0.015}[field]
    spread: dict[str, Any] = {
        field: lambda time: good + (poor - good) * ((time % 100) < share * 100)
    }
    return judge_logs(make_log(**spread))


def _jump(metres: float = 0.0, turn: float = 0.0) -> Evidence:
    """Return a trajectory at 10 Hz that jumps to the east in the middle of a line, or turns."""
    track = make_track()
    series = track.series
    assert series is not None
    time = np.arange(series.time_s[0], series.time_s[-1], 0.1)
    blank = np.full(len(time), np.nan)
    after = time > TAKEOFF + 60.0
    whole = np.full(len(time), -1)
    moved = Series(
        time_s=time,
        east_m=np.interp(time, series.time_s, series.east_m) + metres * after,
        north_m=np.interp(time, series.time_s, series.north_m),
        height_m=np.interp(time, series.time_s, series.height_m),
        quality=whole.astype(np.int8),
        satellites=whole.astype(np.int16),
        **dict.fromkeys(("hdop", "pdop", "age_s", "sigma_m", "roll_deg", "pitch_deg"), blank),
        heading_deg=np.where(after, 350.0 + turn, 350.0),
    )
    return judge_logs(make_log(), replace(track, series=moved))


def _two_bases(second: dict[str, Any]) -> Evidence:
    """Return two flights, each with its base."""
    flights = (make_flight("F1", base_mark="QM1"), make_flight("F2", base_mark="QM1"))
    return judge_logs(
        make_base(), make_base(**{"flight": "F2", "name": "second.26o", **second}), flights=flights
    )


def _stations(second: str) -> Evidence:
    """Return a log of which the station changes in the third line."""
    return judge_logs(make_log(stations=((TAKEOFF, "0001"), (TAKEOFF + 180, second))))


def _pair(flown: Flown) -> Evidence:
    """Return two flights, and a trajectory that is registered with the first."""
    flights = (make_flight("F1"), make_flight("F2"))
    return judge_logs(
        make_log(),
        make_log(_OTHER, flight="F2", name="other.txt"),
        make_track(flown),
        flights=flights,
    )


def _run(name: str, *outputs: tuple[str, str]) -> Process:
    made = tuple(Output(FileRecord(path, path * 9, 1, 0, role)) for path, role in outputs)
    inputs = (Input(flight="F1"),)
    return Process(
        name, "run", "", int(name[1:]), "", "", Decision.ACCEPTED, 1, "", {}, inputs, made
    )


def _deliver_path(run: str) -> Evidence:
    """Return a tile of the second run with the trajectory of one of two runs."""
    runs = {
        "R1": _run("R1", ("a.csv", "trajectory")),
        "R2": _run("R2", ("tile.laz", "points"), ("b.csv", "trajectory")),
    }
    path = {"R1": "a.csv", "R2": "b.csv"}[run]
    custody = Custody(CustodyState.ACCEPTED, MatchedBy.DIGEST, (Line((runs["R2"],)),))
    files = (
        make_file("tile.laz", sha256="tile.laz" * 9, custody=custody),
        make_file(path, sha256=path * 9, kind="document"),
    )
    return replace(judge_logs(files=files), processes=tuple(runs.values()), recorded=2)


def _lay_geoid(height_type: str) -> Look:
    """Return a look at a receiver whose separation is 0.7 m off the geoid of the job."""

    def look(folder: Path) -> Iterable[Finding]:
        write_geoids(folder)
        values = {"run.input_height_type": KnownValue(height_type)}
        run = replace(_run("R1", ("tile.laz", "points")), values=values)
        separation = (Decimal("-31.2"), Decimal("-31.2"))
        told = judge_logs(make_log(separation_m=separation), files=(_SITE,))
        grid = str(folder / "demo-geoid-A.tif")
        return drive_check(
            ReceiverGeoid(), replace(told, processes=(run,), geoid_grid=grid, geoid_sha256="a" * 64)
        )

    return look


CASES: tuple[Planted, ...] = (
    Planted(
        "receiver-geoid",
        "heights above the receiver's own geoid model",
        _lay_geoid("orthometric"),
        _lay_geoid("ellipsoidal"),
    ),
    record(
        "a base log with a hole",
        BaseEpochs(),
        _hole(10.5),
        _hole(10.0),
        gate="10.5 s against 10 s",
    ),
    record(
        "a base log that lacks epochs",
        BaseEpochs(),
        _base(epochs=979, missing=21),
        _base(epochs=981, missing=19),
        gate="2.1 % against 1.9 %",
    ),
    record(
        "a base log with too long a step",
        BaseEpochs(),
        _base(step_s=Decimal(2), interval_s=Decimal(2)),
        _base(step_s=Decimal(1), interval_s=Decimal(1)),
        gate="2 s against 1 s",
    ),
    record(
        "a base that was switched off too early",
        BaseEpochs(),
        _base(span_s=(TAKEOFF - 720, TAKEOFF + _LOGGED + 299)),
        _base(span_s=(TAKEOFF - 720, TAKEOFF + _LOGGED + 300)),
        gate="299 s after the flight against 300 s",
    ),
    record(
        "a base of another job",
        BasePlace(),
        _base_at(0.46),
        _base_at(0.44),
        gate="51 km against 49 km",
        ids=("GN-08", "GN-09"),
    ),
    record(
        "a base that is far away",
        BasePlace(),
        _base_at(0.10),
        _base_at(0.08),
        gate="11 km against 9 km",
        ids=("GN-09", "GN-08"),
    ),
    record("a base antenna without a type", BaseAntenna(), _base(antenna=""), _base()),
    record(
        "a base antenna of another type than on the card",
        BaseAntenna(),
        judge_logs(make_base(), card={"base_antenna": "TRM115000.00"}),
        judge_logs(make_base(), card={"base_antenna": "LEIAR25.R3"}),
    ),
    record(
        "two bases in one job",
        BaseChange(),
        _two_bases({"position_m": (Decimal("832435.2"), Decimal("-4921642.1"), Decimal(3957510))}),
        _two_bases({"position_m": (Decimal("832433.2"), Decimal("-4921642.1"), Decimal(3957510))}),
        gate="11 m apart against 9 m",
    ),
    record("a second correction station", BaseChange(), _stations("0002"), _stations("0001")),
    record(
        "a float solution on a line",
        FixQuality(),
        _fix(11.0),
        _fix(10.0),
        gate="11 s against 10 s",
    ),
    record(
        "too little of the lines fixed",
        FixQuality(),
        _loose(0.08),
        _loose(0.04),
        gate="92 % of the time against 96 %",
    ),
    *(
        record(fault, SkyQuality(), _sky(field, poor, 0.08), _sky(field, poor, 0.03), gate=gate)
        for fault, field, poor, gate in (
            ("few satellites", "satellites", 9.0, "8 % of the epochs against 3 %"),
            ("a bad figure in height, too", "pdop", 4.1, "8 % of the epochs against 3 %"),
            ("a bad figure of the satellites", "hdop", 2.1, "8 % of the epochs against 3 %"),
            ("old corrections", "age_s", 5.1, "8 % of the epochs against 3 %"),
            ("a receiver that doubts its height", "sigma_m", 0.06, "8 % of the epochs against 3 %"),
        )
    ),
    record(
        "a trajectory that jumps",
        TrackJumps(),
        _jump(0.35),
        _jump(0.25),
        gate="0.35 m against 0.25 m",
    ),
    record(
        "a nose that turns on the spot",
        TrackJumps(),
        _jump(turn=25.0),
        _jump(turn=15.0),
        gate="250° a second against 150°",
    ),
    record(
        "a trajectory whose clock is late",
        ClockOffset(),
        _lag(0.3),
        _lag(0.1),
        gate="0.3 s against 0.1 s",
    ),
    record(
        "a trajectory in UTC that is said to be in GPS time",
        ClockOffset(),
        _lag(-18.0),
        _lag(0.0),
    ),
    record(
        "a log in another time scale, which nothing says",
        ClockOffset(),
        _lag(0.0, scale=None),
        _lag(0.0, scale=KnownValue("GPS", known_by=READ)),
    ),
    record(
        "the trajectory of another flight",
        PathPairs(),
        _pair(replace(_OTHER, seed=9)),
        _pair(Flown()),
    ),
    record(
        "a trajectory that bends away",
        PathPairs(),
        judge_logs(make_log(), make_track(bend=1.7)),
        judge_logs(make_log(), make_track(bend=1.1)),
        gate="1.2 m (RMS) against 0.8 m",
    ),
    record(
        "a hole in a trajectory",
        TrackTimes(),
        judge_logs(make_track(Flown(step=0.1), keep=lambda t: (t < 100) | (t >= 100.55))),
        judge_logs(make_track(Flown(step=0.1), keep=lambda t: (t < 100) | (t >= 100.35))),
        gate="0.6 s against 0.4 s",
    ),
    record(
        "times that repeat",
        TrackTimes(),
        judge_logs(make_track(repeated=1)),
        judge_logs(make_track()),
    ),
    record(
        "a trajectory with damaged lines",
        TrackTimes(),
        judge_logs(make_track(bad=2, epochs=998)),
        judge_logs(make_track(bad=1, epochs=999)),
        gate="0.2 % against 0.1 %",
    ),
    record(
        "a start without a pause",
        StartUp(),
        judge_logs(make_track(Flown(still=29.0, step=0.2))),
        judge_logs(make_track(Flown(still=31.0, step=0.2))),
        gate="29 s against 31 s",
    ),
    record(
        "lines flown faster than planned",
        FlownAsPlanned(),
        judge_logs(make_track(Flown(speed=5.8)), card={"speed": "5", "line_spacing": "35"}),
        judge_logs(make_track(Flown(speed=5.7)), card={"speed": "5", "line_spacing": "35"}),
        gate="16 % against 14 %",
    ),
    record(
        "lines flown further apart than planned",
        FlownAsPlanned(),
        judge_logs(make_track(Flown(spacing=40.6)), card={"speed": "5", "line_spacing": "35"}),
        judge_logs(make_track(Flown(spacing=39.9)), card={"speed": "5", "line_spacing": "35"}),
        gate="16 % against 14 %",
    ),
    record(
        "the trajectory of another run",
        TrajectoryRun(),
        _deliver_path("R1"),
        _deliver_path("R2"),
    ),
)
