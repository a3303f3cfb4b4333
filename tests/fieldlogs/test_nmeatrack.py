"""Positions of NMEA logs, epoch by epoch."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from functools import reduce
from operator import xor
from pathlib import Path

import numpy as np
import pytest
from open_data import OpenFile

from ledger.fieldlogs import series
from ledger.fieldlogs.nmeatrack import read_nmea_track


def sentence(body: str) -> bytes:
    """Return a sentence with its checksum."""
    return f"${body}*{reduce(xor, body.encode('ascii'), 0):02X}\r\n".encode("ascii")


def test_a_real_surveying_receiver(open_file: OpenFile) -> None:
    """Place, height above the ellipsoid, quality and spread are those stated beside the file.

    The receiver wrote its ellipsoidal height by itself too (PTNL,GGK: EHT 371.467).
    """
    track = read_nmea_track(open_file("nmea/TrimbleR2SampleData.txt"))
    rows = track.gathered.rows
    assert len(rows) == track.gathered.epochs == 34
    assert track.first_day == date(2017, 12, 20)
    assert rows[0, series.TIME] == 23 * 3600 + 56 * 60 + 47
    assert rows[0, series.X] == pytest.approx(-117.1968, abs=5e-5)
    assert rows[0, series.Y] == pytest.approx(34.0579, abs=5e-5)
    assert rows[0, series.HEIGHT] == pytest.approx(371.467, abs=1e-9)
    assert np.count_nonzero(rows[:, series.QUALITY] == 5) == 9
    assert np.count_nonzero(rows[:, series.QUALITY] == 2) == 25
    assert track.separation_m == (Decimal("-32.133"), Decimal("-32.133"))
    assert (track.gathered.spacing.step_s, track.gathered.spacing.missing) == (1.0, 0)


def test_dilution_of_the_position(open_file: OpenFile) -> None:
    """GSA field 15 of each epoch, two sentences for each: 2.9 in the first."""
    rows = read_nmea_track(open_file("nmea/TrimbleR2SampleData.txt")).gathered.rows
    lines = open_file("nmea/TrimbleR2SampleData.txt").read_text("ascii", "replace").splitlines()
    stated = [float(line.split(",")[15]) for line in lines if line.startswith("$GNGSA")]
    assert rows[:, series.PDOP].tolist() == stated[::2] == stated[1::2]
    assert rows[0, series.PDOP] == 2.9


def test_southern_and_eastern_sides(open_file: OpenFile) -> None:
    """19 29.045 S is south of the equator."""
    rows = read_nmea_track(open_file("nmea/data.log")).gathered.rows
    assert rows[0, series.Y] == pytest.approx(-(19 + 29.045 / 60), abs=1e-5)
    assert rows[0, series.X] > 0


@pytest.mark.parametrize(
    ("name", "epochs", "bad"),
    [
        ("pygpsdata-nmeabadck.log", 0, 2),
        ("pygpsdata-badeof.log", 0, 1),
        ("pygpsdata-mixed.log", 2, 2),
        ("pygpsdata-nmeastartup.log", 0, 0),
        ("pygpsdata-um981.log", 2, 0),
    ],
)
def test_damaged_and_empty_logs(open_file: OpenFile, name: str, epochs: int, bad: int) -> None:
    """What is damaged is counted and left out, and what has no position gives none."""
    track = read_nmea_track(open_file(f"nmea/{name}"))
    assert (track.gathered.epochs, track.bad) == (epochs, bad)


def test_spread_of_the_height(tmp_path: Path) -> None:
    """GST is joined with the position of its time, whether it stands before or after it."""
    path = tmp_path / "a.txt"
    gga = "GNGGA,{},5000.0,N,00700.0,E,4,12,0.7,100.0,M,47.0,M,1.5,0031"
    gst = "GNGST,{},0.1,,,,0.010,0.011,0.{}"
    path.write_bytes(
        sentence(gga.format("120000.00"))
        + sentence(gst.format("120000.00", "021"))
        + sentence(gst.format("120001.00", "022"))
        + sentence(gga.format("120001.00"))
        + sentence(gga.format("120002.00"))
    )
    track = read_nmea_track(path)
    assert track.gathered.rows[:, series.SIGMA].tolist()[:2] == [0.021, 0.022]
    assert np.isnan(track.gathered.rows[2, series.SIGMA])
    assert track.gathered.rows[0, series.AGE] == 1.5
    assert track.stations == ((43200.0, "0031"),)


def test_spread_of_the_height_after_midnight(tmp_path: Path) -> None:
    """Parts of a second stay what they are when days are counted on."""
    path = tmp_path / "a.txt"
    gga = "GNGGA,{},5000.0,N,00700.0,E,4,12,0.7,100.0,M,47.0,M,,"
    gst = "GNGST,{},0.1,,,,0.010,0.011,0.021"
    path.write_bytes(
        sentence(gga.format("235959.90"))
        + sentence(gst.format("235959.90"))
        + sentence(gga.format("000000.10"))
        + sentence(gst.format("000000.10"))
        + sentence(gst.format("000000.20"))
        + sentence(gga.format("000000.20"))
    )
    track = read_nmea_track(path)
    assert track.gathered.rows[:, series.SIGMA].tolist() == [0.021, 0.021, 0.021]


def test_over_midnight_with_the_day_told_late(tmp_path: Path) -> None:
    """The first midnight is before the first sentence, though the date comes after the next one."""
    path = tmp_path / "a.txt"
    gga = "GNGGA,{},5000.0,N,00700.0,E,4,12,0.7,100.0,M,47.0,M,,"
    path.write_bytes(
        sentence(gga.format("235959.00"))
        + sentence(gga.format("000000.00"))
        + sentence("GNRMC,000000.00,A,5000.0,N,00700.0,E,0.1,,130526,,")
    )
    track = read_nmea_track(path)
    assert track.first_day == date(2026, 5, 12)
    assert np.diff(track.gathered.rows[:, series.TIME]).tolist() == [1.0]


def test_a_receiver_without_a_position_tells_no_day(tmp_path: Path) -> None:
    """Of a receiver whose status is void, the date may be any."""
    path = tmp_path / "a.txt"
    path.write_bytes(sentence("GNRMC,000000.00,V,,,,,,,060180,,"))
    assert read_nmea_track(path).first_day is None
