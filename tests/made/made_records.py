"""A consistent chain of records, from rig to delivered file, of which tests spoil one value."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest
from made_cloud import make_header

from ledger.contract.evidence import Evidence
from ledger.crs import describe
from ledger.model.artefact import FileRecord, Output
from ledger.model.fields import FIELDS
from ledger.model.georeferencing import CrsReading, CrsRecord
from ledger.model.jobrecords import JobRecords, RawFile
from ledger.model.known import KnownBy, KnownValue
from ledger.model.lineage import Custody, CustodyState, Line, MatchedBy
from ledger.model.process import Card, Decision, Input, Process
from ledger.model.specification import Coordinates, Geoid, Specification, Units
from ledger.testing.driver import make_evidence, make_file

GRID = "a" * 64
OTHER_GRID = "b" * 64

RIG = {
    "rig.scanner_serial": "SU-07",
    "rig.lever_arm_aircraft": ["0.120", "-0.030", "0.250"],
    "rig.lever_arm_scanner": ["0.010", "0.000", "0.080"],
    "rig.lever_arm_convention": "forward-right-down",
    "rig.bracket": "B-1",
    "rig.tested_range": "100",
    "rig.calibration_serial": "SU-07",
}
FLIGHT = {
    "flight.rig": "G1",
    "flight.platform": "drone",
    "flight.mount_mode": "drone",
    "flight.orientation": "upright",
    "flight.position_source": "aircraft receiver",
    "flight.scanner_antenna_fitted": False,
    "flight.scanner_serial": "SU-07",
    "flight.height_type": "ellipsoidal",
    "flight.frame": "NAD83(2011)",
    "flight.epoch": "2010.0",
    "flight.base_kind": "own base",
    "flight.base_method": "published",
    "flight.base_height": "1.523",
    "flight.base_height_again": "1.524",
    "flight.base_height_kind": "vertical",
    "flight.scanner_time_scale": "GPS",
    "flight.log_time_scale": "UTC",
    "flight.height_above_ground": "45",
}
RUN = {
    "run.software": "demo-proc",
    "run.version": "4.1.0",
    "run.mount_mode": "drone",
    "run.orientation": "upright",
    "run.position_source": "aircraft receiver",
    "run.lever_arm": ["0.120", "-0.030", "0.250"],
    "run.lever_arm_from": "aircraft antenna",
    "run.lever_arm_convention": "forward-right-down",
    "run.crs": "EPSG:6346",
    "run.frame": "NAD83(2011)",
    "run.zone": "17N",
    "run.unit_horizontal": "metre",
    "run.unit_vertical": "metre",
    "run.scale_basis": "grid",
    "run.trajectory_crs": "EPSG:6346",
    "run.trajectory_height_type": "orthometric",
    "run.range_max": "90",
    "run.scan_angle_max": "50",
    "run.thinning": "none",
    "run.leap_seconds": 18,
    "run.epoch": "2010.0",
    "run.input_height_type": "ellipsoidal",
    "run.output_height_type": "orthometric",
    "run.geoid_name": "demo-geoid-A",
    "run.geoid_version": "1",
    "run.geoid_file": GRID,
    "run.geoid_frame": "NAD83(2011)",
    "run.control_used": False,
    "run.control_count": 0,
}
COORDINATES = Coordinates(
    horizontal="EPSG:6346",
    epoch=2010.0,
    unit=Units(horizontal="metre", vertical="metre"),
    scale_basis="grid",
    vertical="orthometric",
    geoid=Geoid(name="demo-geoid-A", version="1", file="geoid/A.tif"),
)

_STATED = CrsRecord(present=True, crs=describe("EPSG:6346"))
READING = CrsReading(wkt=_STATED, geotiff=CrsRecord(present=False), governing=_STATED)
CHECKPOINTS = FileRecord("checks.csv", "c" * 64, 1, 0, "checkpoints")
BASE_LOG = FileRecord(
    "raw/base.obs", "d" * 64, 1, 0, "base-log", {"antenna_delta_m": ["1.5235", "0.0000", "0.0000"]}
)

Changes = dict[str, Any]


def _know(values: Changes, changes: Changes) -> dict[str, KnownValue]:
    """Return known values; a change to None makes a value blank, a KnownValue stands as it is."""
    merged = values | {key: value for key, value in changes.items() if key in values or value}
    return {
        key: replace(
            value if isinstance(value, KnownValue) else KnownValue(value), unit=FIELDS[key].unit
        )
        for key, value in merged.items()
        if value is not None
    }


def _part(changes: Changes, entry: str) -> Changes:
    return {key: value for key, value in changes.items() if key.startswith(f"{entry}.")}


class Records:
    """Records of a job: runs, flights and rigs, and the files that come from them."""

    def __init__(self) -> None:
        """Start without any."""
        self.specification = Specification(
            coordinates=COORDINATES, criteria={"point-density": {"min_pts_per_m2": 4.0}}
        )
        self.job = JobRecords(raw=(RawFile(BASE_LOG, "F1"),))
        self.registered = {CHECKPOINTS.sha256: CHECKPOINTS}
        self.geoid_sha256 = GRID
        self.rigs: list[Card] = []
        self.flights: list[Card] = []
        self.processes: list[Process] = []
        self.delivered: list[tuple[str, tuple[str, ...]]] = []

    def rig(self, name: str = "G1", **parts: Any) -> Records:
        """Add a rig; `changes` replace values."""
        self.rigs.append(self._card(name, RIG, parts))
        return self

    def flight(self, name: str = "F1", **parts: Any) -> Records:
        """Add a flight."""
        self.flights.append(self._card(name, FLIGHT, parts))
        return self

    def _card(self, name: str, values: Changes, parts: Changes) -> Card:
        known = _know(values, parts.get("changes", {}))
        return Card(name, "", len(self.rigs) + len(self.flights) + 1, "", "technician", known)

    def process(self, name: str = "R1", **parts: Any) -> Records:
        """Add a run (or a step) that makes one file of its own name."""
        values = RUN if name.startswith("R") else {}
        self.processes.append(
            Process(
                id=name,
                kind="run" if name.startswith("R") else "step",
                name="",
                entry=10 + len(self.processes),
                time="2026-05-14T09:00:00Z",
                by="technician",
                decision=parts.get("decision", Decision.ACCEPTED),
                decision_entry=10,
                reason="",
                values=_know(values, parts.get("changes", {})),
                inputs=tuple(
                    Input(flight=source) if source.startswith("F") else Input(sha256=source)
                    for source in parts.get("sources", ("F1",))
                ),
                outputs=(Output(FileRecord(f"out/{name}.las", name, 1, 0, "points")),),
            )
        )
        return self

    def deliver(self, path: str, *line: str) -> Records:
        """Deliver a file whose custody line is given by ids, nearest first."""
        self.delivered.append((path, line))
        return self

    def evidence(self) -> Evidence:
        """Return what an audit of these records would know."""
        by_id = {process.id: process for process in self.processes}
        files = [
            make_file(
                path,
                header=make_header(),
                crs=READING,
                custody=Custody(
                    CustodyState.ACCEPTED,
                    MatchedBy.DIGEST,
                    (Line(tuple(by_id[name] for name in line)),) if line else (),
                ),
            )
            for path, line in self.delivered
        ]
        return make_evidence(
            *files,
            specification=self.specification,
            geoid_sha256=self.geoid_sha256,
            specified_crs=describe(self.specification.coordinates.horizontal or "EPSG:6346"),
            job=self.job,
            registered=self.registered,
            processes=tuple(self.processes),
            flights=tuple(self.flights),
            rigs=tuple(self.rigs),
        )


@pytest.fixture
def records() -> Records:
    """Return an empty set of records."""
    return Records()


@pytest.fixture
def one_run() -> Callable[..., Evidence]:
    """Return a function that makes evidence of one run, with some values changed."""

    def make(changes: Changes | None = None, **parts: Any) -> Evidence:
        made = Records()
        given = changes or {}
        made.rig(changes=_part(given, "rig")).flight(changes=_part(given, "flight"))
        made.process(changes=_part(given, "run")).deliver("tile_01.las", "R1")
        made.specification = parts.get("specification", made.specification)
        made.job = parts.get("job", made.job)
        made.registered = parts.get("registered", made.registered)
        made.geoid_sha256 = parts.get("geoid_sha256", made.geoid_sha256)
        return made.evidence()

    return make


@pytest.fixture
def assumed() -> Callable[[Any], KnownValue]:
    """Return a function that makes a value that nobody knows for sure."""
    return lambda value: KnownValue(value, known_by=KnownBy.ASSUMED, confirmed=False)
