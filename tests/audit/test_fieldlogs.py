"""The logs behind a delivery, from their registered files."""

from __future__ import annotations

import hashlib
from pathlib import Path

import pytest
from open_data import OpenFile

from ledger.audit.fieldlogs import read_field_logs
from ledger.content import read_facts
from ledger.crs import describe
from ledger.model.artefact import FileRecord, Output
from ledger.model.fieldlogs import FieldLogs
from ledger.model.jobrecords import RawFile
from ledger.model.known import KnownValue
from ledger.model.process import Card, Decision, Input, Process

JOB_CRS = describe("EPSG:6346")
HEADER = "time,easting,northing,height\n"
TAKEOFF = 1_462_629_618  # GPS seconds of 2026-05-12 14:00:00 UTC


def _card(**values: object) -> Card:
    known = {f"flight.{name}": KnownValue(value) for name, value in values.items()}
    known["flight.takeoff"] = KnownValue("2026-05-12T14:00:00Z")
    return Card("F1", "", 3, "2026-05-12T18:00:00Z", "technician", known)


def _record(path: Path, job: Path) -> FileRecord:
    content = path.read_bytes()
    facts = read_facts(path)
    digest = hashlib.sha256(content).hexdigest()
    name = path.relative_to(job).as_posix()
    return FileRecord(name, digest, len(content), 0, str(facts.role), facts.values, facts.fault)


def _write(job: Path, name: str, text: str) -> RawFile:
    path = job / name
    path.write_text(text, encoding="ascii")
    return RawFile(_record(path, job), "F1")


def _read(job: Path, *raw: RawFile, card: Card | None = None) -> FieldLogs:
    return read_field_logs(job, raw, (card or _card(),), (), JOB_CRS)


def test_a_table_as_it_is_recorded(tmp_path: Path) -> None:
    """Its clock runs as the card says, and its heights are what the card says."""
    raw = _write(tmp_path, "track.csv", f"{HEADER}{TAKEOFF - 18},552000,4272000,250\n")
    card = _card(scanner_time_scale="UTC", height_type="ellipsoidal")
    (track,) = _read(tmp_path, raw, card=card).tracks
    assert track.span_s == (TAKEOFF, TAKEOFF)
    assert (track.place, track.kind, track.epochs) == ("written", "table", 1)
    assert track.height_type == KnownValue("ellipsoidal")
    assert track.series is not None
    assert track.series.east_m.tolist() == [552_000.0]
    assert not track.series.time_s.flags.writeable


def test_a_real_log_lies_in_the_system_of_the_job(tmp_path: Path, open_file: OpenFile) -> None:
    """Longitudes and latitudes become eastings and northings of the job."""
    path = tmp_path / "a.txt"
    path.write_bytes(open_file("nmea/TrimbleR2SampleData.txt").read_bytes())
    raw = RawFile(_record(path, tmp_path), "F1")
    logs = read_field_logs(tmp_path, [raw], (), (), describe("EPSG:6340"))  # UTM zone 11N
    (track,) = logs.tracks
    assert (track.place, track.epochs, track.has_date) == ("job", 34, True)
    assert track.series is not None
    # 117.1968 W is 0.1968 degrees west of the central meridian of zone 11: about 18.2 km.
    assert 500_000 - track.series.east_m[0] == pytest.approx(18_160, abs=30)
    assert track.separation_m is not None


def test_a_log_that_is_gone_is_told(tmp_path: Path) -> None:
    """A log whose bytes are not there, or are others, is there with the reason."""
    gone = _write(tmp_path, "track_a.csv", f"{HEADER}{TAKEOFF},1,2,3\n")
    (tmp_path / "track_a.csv").unlink()
    other = _write(tmp_path, "track_b.csv", f"{HEADER}{TAKEOFF},1,2,3\n")
    (tmp_path / "track_b.csv").write_text(f"{HEADER}{TAKEOFF},1,2,4\n", encoding="ascii")
    first, second = _read(tmp_path, gone, other).tracks
    assert first.fault
    assert second.fault == "its bytes are not those that were registered"
    assert first.series is None
    assert second.series is None


def test_a_base_log_needs_its_file_no_more(tmp_path: Path, open_file: OpenFile) -> None:
    """What it says was read when it was registered."""
    raw = RawFile(_record(open_file("rinex/gps.23O.gz"), open_file("rinex/gps.23O.gz").parent))
    (base,) = read_field_logs(tmp_path, [raw], (), (), None).bases
    assert (base.epochs, base.missing, base.longest_gap_s) == (216, 22, 510.0)
    assert base.span_s is not None
    assert base.span_s[1] - base.span_s[0] == 7110.0
    assert [gap.seconds for gap in base.gaps] == [210.0, 510.0]
    assert base.scale is not None
    assert base.scale.value == "GPS"


def test_a_trajectory_that_a_run_wrote(tmp_path: Path) -> None:
    """It belongs to its run, and its system is the one that was recorded with the run."""
    path = tmp_path / "track.csv"
    # The same place as 552000 E 4272000 N of zone 17N, in zone 16N, to a metre.
    path.write_text(f"{HEADER}{TAKEOFF},1077000,4291000,250\n", encoding="ascii")
    run = Process(
        id="R1",
        kind="run",
        name="",
        entry=5,
        time="",
        by="technician",
        decision=Decision.ACCEPTED,
        decision_entry=5,
        reason="",
        values={
            "run.trajectory_crs": KnownValue("EPSG:6345"),
            "run.trajectory_height_type": KnownValue("orthometric"),
        },
        inputs=(Input(flight="F1"),),
        outputs=(Output(_record(path, tmp_path)),),
    )
    (track,) = read_field_logs(tmp_path, (), (_card(),), (run,), JOB_CRS).tracks
    assert (track.file.run, track.file.flight, track.place) == ("R1", "F1", "job")
    assert track.height_type == KnownValue("orthometric")
    assert track.series is not None
    assert 540_000 < track.series.east_m[0] < 560_000


def test_a_table_without_names_as_it_was_declared(tmp_path: Path) -> None:
    """Columns by their numbers, feet, fix numbers of post-processing, said once on the card."""
    path = tmp_path / "track.txt"
    path.write_text(
        f"2 100.0 {TAKEOFF - 18} 1000.0 500.0\n1 100.0 {TAKEOFF - 17} 1005.0 500.0\n",
        encoding="ascii",
    )
    record = FileRecord("track.txt", _digest(path), 1, 0, "trajectory")
    card = _card(
        track_columns="fix=column 1, height=column 2, time=column 3, x=column 4, y=column 5",
        track_time_scale="UTC",
        track_unit="international-foot",
        track_height_type="ellipsoidal",
        track_fix_codes="1 fixed, 2 float",
    )
    (track,) = _read(tmp_path, RawFile(record, "F1"), card=card).tracks
    assert track.fault == ""
    assert (track.span_s, track.epochs) == ((TAKEOFF, TAKEOFF + 1), 2)
    assert track.series is not None
    assert track.series.quality.tolist() == [5, 4]
    assert track.series.east_m.tolist() == pytest.approx([304.8, 306.324])
    assert track.series.height_m[0] == pytest.approx(30.48)
    assert track.quality_known is not None
    assert track.quality_known.can_prove
    assert track.height_type == KnownValue("ellipsoidal")


def test_a_fix_that_no_receiver_tells_is_none(tmp_path: Path) -> None:
    """A column that holds something else: 260 and 4.7 are not taken for 4, a fixed solution."""
    rows = "".join(
        f"{fix} 100.0 {TAKEOFF + n} 1000.0 500.0\n" for n, fix in enumerate((4, 260, 4.7, -1))
    )
    path = tmp_path / "track.txt"
    path.write_text(rows, encoding="ascii")
    record = FileRecord("track.txt", _digest(path), 1, 0, "trajectory")
    card = _card(
        track_columns="fix=column 1, height=column 2, time=column 3, x=column 4, y=column 5",
        track_time_scale="GPS",
    )
    (track,) = _read(tmp_path, RawFile(record, "F1"), card=card).tracks
    assert track.series is not None
    assert track.series.quality.tolist() == [4, -1, -1, -1]


def test_a_declaration_that_says_nothing_is_told(tmp_path: Path) -> None:
    """A column that is called nothing known is the fault of the log, with what would be right."""
    raw = _write(tmp_path, "track.csv", f"{HEADER}{TAKEOFF},1,2,3\n")
    (track,) = _read(tmp_path, raw, card=_card(track_columns="wind=column 1")).tracks
    assert "cannot be understood" in track.fault


def _digest(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()
