"""Coordinates that cannot be where the header says, and scales that cannot hold them."""

from __future__ import annotations

from typing import Any

from made_headers import deliver
from made_logs import make_log
from planted import Planted, record

from ledger.contract.evidence import Evidence
from ledger.crs import describe, from_lonlat
from ledger.model.fieldlogs import FieldLogs
from ledger.testing import make_evidence
from lidar_checks.header.crs_position import CrsPosition
from lidar_checks.header.header_extent import HeaderExtent

_UTM = "EPSG:6346+5703"


def _place(west: float, south: float, size: float = 80.0, crs: str = _UTM) -> Evidence:
    """Return a file with a square box at a place."""
    box = {"minimum": (west, south, 210.0), "maximum": (west + size, south + size, 230.0)}
    return make_evidence(deliver(describe(crs), header=box))


def _fly_at(degrees: float, crs: str = "EPSG:32656") -> Evidence:
    """Return a file at 33.9° S by a southern zone, and a log that was flown so far north of it."""
    south = describe("EPSG:32756")
    east, north = from_lonlat(south, 151.2, -33.9)
    box = {"minimum": (east, north, 10.0), "maximum": (east + 80, north + 80, 30.0)}
    asked = describe(crs)
    log_east, log_north = from_lonlat(asked, 151.2, -33.9 + degrees)
    # A made log lies at 552,000 E, 4,272,000 N.
    log = make_log(shift=(log_east - 552_000.0, log_north - 4_272_000.0))
    return make_evidence(
        deliver(asked, header=box), specified_crs=asked, logs=FieldLogs(tracks=(log,))
    )


def _offset(west: float) -> Evidence:
    """Return a file whose offset lies somewhere, and its points at 552,080 at most."""
    header: dict[str, Any] = {"offset": (west, 4_272_000.0, 0.0)}
    return make_evidence(deliver(describe(_UTM), header=header))


CASES: tuple[Planted, ...] = (
    record(
        "degrees under a projected system",
        CrsPosition(),
        _place(-80.41, 38.59, 0.01),
        _place(552_000.0, 4_272_000.0),
        ids=("CR-10",),
    ),
    record(
        "metres of a web map",
        CrsPosition(),
        _place(-8_950_000.0, 4_665_000.0, crs="EPSG:3857"),
        _place(552_000.0, 4_272_000.0),
        ids=("CR-10",),
    ),
    record(
        "a zone of the wrong hemisphere",
        CrsPosition(),
        _place(300_000.0, 9_600_000.0, crs="EPSG:32656"),
        _place(300_000.0, 9_600_000.0, crs="EPSG:32756"),
        gate="zone 56N against 56S, 3.6° south",
        ids=("CR-13",),
    ),
    record(
        "a zone of the wrong hemisphere, far from the equator",
        CrsPosition(),
        _fly_at(0.0, "EPSG:32656"),
        _fly_at(0.0, "EPSG:32756"),
        gate="zone 56N against 56S, 33.9° south",
        ids=("CR-13",),
    ),
    record(
        "a site where nobody flew",
        CrsPosition(),
        _fly_at(0.47, "EPSG:32756"),
        _fly_at(0.43, "EPSG:32756"),
        gate="52 km against 48 km from the position log",
        ids=("CR-01",),
    ),
    record(
        "an offset from which the points cannot be reached",
        HeaderExtent(),
        _offset(552_080.0 - 2_147_483.648),
        _offset(552_080.0 - 2_147_483.0),
        gate="2^31 steps of 0.001 m against 648 fewer",
        ids=("FT-02",),
    ),
)
