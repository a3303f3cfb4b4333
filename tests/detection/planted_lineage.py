"""Errors in raw files and their records."""

from __future__ import annotations

from typing import Any

from made_raw import make_flight, make_job, make_raw
from planted import Planted, record

from ledger.contract.evidence import Evidence
from ledger.model.artefact import FileRecord
from ledger.model.jobrecords import Elsewhere, PastAudit
from ledger.model.known import KnownValue
from ledger.model.process import Card
from ledger.model.specification import Delivery, Specification
from ledger.testing import make_file
from lidar_checks.lineage.capture_files import LARGEST_ON_FAT, CaptureFiles
from lidar_checks.lineage.capture_length import CaptureLength
from lidar_checks.lineage.flight_times import FlightTimes
from lidar_checks.lineage.package_items import PackageItems
from lidar_checks.lineage.raw_copies import RawCopies
from lidar_checks.lineage.raw_elsewhere import RawElsewhere
from lidar_checks.lineage.raw_unchanged import RawUnchanged
from lidar_checks.lineage.replaced_delivery import ReplacedDelivery
from lidar_checks.lineage.setup_record import SetupRecord
from lidar_checks.lineage.statement_support import StatementSupport

_TAKEOFF, _LANDING = "2026-05-12T14:00:00Z", "2026-05-12T14:16:40Z"
_TABLE = "c" * 64
_OTHER_JOB = Elsewhere("HS-2", "HS-2", "raw/a.bin", "capture", "2026-04-02T10:00:00Z")


def _fly(**values: str) -> Evidence:
    """Return a flight of 1,000 s with these values."""
    return make_job(flights=(make_flight(takeoff=_TAKEOFF, landing=_LANDING, **values),))


def _fly_thrice(megabytes: int) -> Evidence:
    """Return three flights of 100 s, two captures of 1,000 MB and one of so many."""
    times = {"capture_started": _TAKEOFF, "capture_ended": "2026-05-12T14:01:40Z"}
    sizes = {"F1": 1_000, "F2": 1_000, "F3": megabytes}
    raw = [
        make_raw(f"raw/{name}.bin", flight=name, bytes=size * 1_000_000)
        for name, size in sizes.items()
    ]
    return make_job(*raw, flights=tuple(make_flight(name, **times) for name in sizes))


def _split(parts: int) -> Evidence:
    """Return three captures of a flight whose card states so many."""
    raw = map(make_raw, ("a.bin", "b.bin", "c.bin"))
    return make_job(*raw, flights=(make_flight(capture_parts=parts),))


def _name_day(day: str) -> Evidence:
    """Return a flight of 12 May 2026 with a capture that is named for some day."""
    flight = make_flight(takeoff=_TAKEOFF, landing=_LANDING)
    return make_job(make_raw(f"raw/{day}_140000.bin"), flights=(flight,))


def _log_base(first: str, last: str) -> Evidence:
    """Return that flight with a base log in GPS time."""
    facts = {"first_epoch": first, "last_epoch": last, "time_system": "GPS"}
    raw = make_raw("raw/base.obs", "base-log", facts=facts)
    return make_job(raw, flights=(make_flight(takeoff=_TAKEOFF, landing=_LANDING),))


def _log_flight(last: str) -> Evidence:
    """Return that flight with a position log in UTC."""
    facts = {"first_time": "13:59:00.00", "last_time": last, "date": "2026-05-12"}
    raw = make_raw("raw/log.txt", "flight-log", facts=facts)
    return make_job(raw, flights=(make_flight(takeoff=_TAKEOFF, landing=_LANDING),))


def _photograph(count: int) -> Evidence:
    """Return a flight with a number of photos of its set-up."""
    raw = [make_raw(f"raw/{number}.png", "photo") for number in range(count)]
    rig = Card("G1", "", 2, "", "", {"rig.lever_arm_measured": KnownValue("2026-04-02")})
    return make_job(*raw, flights=(make_flight(rig="G1"),), rigs=(rig,))


def _order(*items: str) -> Evidence:
    """Return a folder with one tile, of which some items were ordered."""
    wishes = Specification(delivery=Delivery(items=items))
    return make_job(files=(make_file("tile_01.laz"),), specification=wishes)


def _send_again(digest: str) -> Evidence:
    """Return a tile of which an earlier audit saw the bytes `a`."""
    said = "fit to send"
    past = PastAudit("D1", "out", 9, "2026-05-14T10:00:00Z", said, {"t.laz": "a" * 64})
    return make_job(files=(make_file("t.laz", sha256=digest),), folder="out", audits=(past,))


def _state(count: int) -> Evidence:
    """Return a statement on a number of checkpoints, where the table has 14."""
    said: dict[str, Any] = {
        "about": "out",
        "accuracy": "vertical",
        "statistic": "RMSE",
        "value": "0.023",
        "count": count,
        "checkpoints": _TABLE,
    }
    known = {f"statement.{key}": KnownValue(value) for key, value in said.items()}
    table = FileRecord("raw/checks.csv", _TABLE, 1, 1, "checkpoints", {"rows": 14})
    card = Card("T1", "", 9, "", "technician", known)
    return make_job(folder="out", registered={_TABLE: table}, statements=(card,))


CASES: tuple[Planted, ...] = (
    record(
        "a capture of no bytes",
        CaptureFiles(),
        make_job(make_raw("cap.bin", bytes=0)),
        make_job(make_raw("cap.bin", bytes=1)),
        gate="0 bytes against 1",
    ),
    record(
        "a capture cut where a drive could hold no more",
        CaptureFiles(),
        make_job(make_raw("cap.bin", bytes=LARGEST_ON_FAT)),
        make_job(make_raw("cap.bin", bytes=LARGEST_ON_FAT - 1)),
        gate="4,294,967,295 bytes against one fewer",
    ),
    record(
        "a part of a capture left behind",
        CaptureFiles(),
        make_job(make_raw("cap_p1.bin"), make_raw("cap_p3.bin")),
        make_job(make_raw("cap_p1.bin"), make_raw("cap_p2.bin")),
        gate="parts 1 and 3 against 1 and 2",
    ),
    record(
        "parts of two captures under one flight",
        CaptureFiles(),
        make_job(*map(make_raw, ("a_p1.bin", "a_p2.bin", "b_p3.bin"))),
        make_job(*map(make_raw, ("a_p1.bin", "a_p2.bin", "a_p3.bin"))),
        gate="part 3 of another capture against the own one",
        ids=("RC-02",),
    ),
    record(
        "more parts than the scanner wrote",
        CaptureFiles(),
        _split(2),
        _split(3),
        gate="3 files where 2 were written, against 3",
        ids=("RC-02",),
    ),
    record(
        "a capture of another day",
        CaptureFiles(),
        _name_day("20260511"),
        _name_day("20260513"),
        gate="11 May against 13 May, flown on 12 May at 14:00 UTC",
        ids=("RC-02",),
    ),
    record(
        "a capture smaller than its time",
        CaptureFiles(),
        _fly_thrice(849),
        _fly_thrice(851),
        gate="849 MB against 851 MB, where two others have 1,000 MB",
        ids=("RC-01",),
    ),
    record(
        "a capture that ends before the flight",
        CaptureLength(),
        _fly(capture_started=_TAKEOFF, capture_ended="2026-05-12T14:16:29Z"),
        _fly(capture_started=_TAKEOFF, capture_ended="2026-05-12T14:16:30Z"),
        gate="11 s against 10 s",
    ),
    record(
        "a capture that covers too little of its flight",
        FlightTimes(),
        _fly(capture_started=_TAKEOFF, capture_ended="2026-05-12T14:15:49Z"),
        _fly(capture_started=_TAKEOFF, capture_ended="2026-05-12T14:15:50Z"),
        gate="94.9 % against 95 %",
    ),
    record(
        "a base log that ends before the flight",
        FlightTimes(),
        _log_base("2026-05-12T13:00:00", "2026-05-12T14:16:07"),
        _log_base("2026-05-12T13:00:00", "2026-05-12T14:16:08"),
        gate="94.9 % against 95 %, GPS 18 s ahead of UTC",
    ),
    record(
        "a position log that ends before the flight",
        FlightTimes(),
        _log_flight("14:15:49.00"),
        _log_flight("14:15:50.00"),
        gate="94.9 % against 95 %",
        ids=("RC-10", "GN-07"),
    ),
    record(
        "a base log of another day",
        FlightTimes(),
        _log_base("2026-05-13T13:00:00", "2026-05-13T15:00:00"),
        _log_base("2026-05-12T13:00:00", "2026-05-12T15:00:00"),
        ids=("RC-10", "GN-08"),
    ),
    record(
        "an item that was ordered and is not there",
        PackageItems(),
        _order("tiles", "dtm"),
        _order("tiles"),
    ),
    record(
        "too few copies of raw files",
        RawCopies(),
        make_job(make_raw("a.bin", copies=1), copies_needed=2),
        make_job(make_raw("a.bin", copies=2), copies_needed=2),
        gate="1 against 2",
    ),
    record(
        "a copy not read back for long",
        RawCopies(),
        make_job(make_raw("a.bin", last_read="2025-11-21T11:59:59Z")),
        make_job(make_raw("a.bin", last_read="2025-11-21T12:00:01Z")),
        gate="a second more than 180 days against one less",
    ),
    record(
        "a copy with other bytes",
        RawCopies(),
        make_job(make_raw("a.bin", wrong={"/usb/a.bin": "changed"})),
        make_job(make_raw("a.bin", wrong={"/usb/a.bin": "missing"})),
        gate="changed against away",
        ids=("RC-07",),
    ),
    record(
        "a capture that is of another job too",
        RawElsewhere(),
        make_job(make_raw("raw/a.bin", elsewhere=(_OTHER_JOB,)), jobs=1),
        make_job(make_raw("raw/a.bin"), jobs=1),
    ),
    record(
        "a raw file changed since it was registered",
        RawUnchanged(),
        make_job(make_raw("raw/a.bin", wrong={"raw/a.bin": "changed"})),
        make_job(make_raw("raw/a.bin", wrong={"raw/a.bin": "missing"})),
        gate="changed against away",
    ),
    record(
        "a tile that is another than was passed before",
        ReplacedDelivery(),
        _send_again("b" * 64),
        _send_again("a" * 64),
    ),
    record(
        "too few photos of the set-up",
        SetupRecord(),
        _photograph(2),
        _photograph(3),
        gate="2 against 3",
    ),
    record(
        "more checkpoints stated than there are",
        StatementSupport(),
        _state(15),
        _state(14),
        gate="15 against the 14 of the table",
        ids=("RH-06",),
    ),
    record("accuracy stated on no checkpoint", StatementSupport(), _state(0), _state(14)),
)
