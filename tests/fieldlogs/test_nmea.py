"""NMEA logs as real receivers wrote them."""

from __future__ import annotations

from pathlib import Path

import pytest
from open_data import OpenFile

from ledger.errors import MalformedFileError
from ledger.fieldlogs.nmea import read_nmea
from ledger.signs import looks_like_nmea


def test_a_real_surveying_receiver(open_file: OpenFile) -> None:
    """34 GGA sentences, 9 float and then 25 differential, never fixed; all checksums right."""
    facts = read_nmea(open_file("nmea/TrimbleR2SampleData.txt"))
    assert (facts.sentences, facts.bad) == (544, 0)
    assert facts.qualities == {"2": 25, "5": 9}
    assert (facts.date, facts.first_time) == ("2017-12-20", "23:56:47.00")
    assert facts.separation_m == "-32.133"


def test_wrong_checksums_are_counted(open_file: OpenFile) -> None:
    """Two of three sentences have a wrong checksum: counted, skipped, not fatal."""
    facts = read_nmea(open_file("nmea/pygpsdata-nmeabadck.log"))
    assert (facts.sentences, facts.bad) == (1, 2)


def test_a_cut_last_sentence_is_counted(open_file: OpenFile) -> None:
    """A log that ends inside a sentence keeps all before it."""
    facts = read_nmea(open_file("nmea/pygpsdata-badeof.log"))
    assert (facts.sentences, facts.bad) == (4, 1)


def test_binary_between_sentences(open_file: OpenFile) -> None:
    """Sentences are found between binary frames, also where one follows a frame on its line."""
    facts = read_nmea(open_file("nmea/pygpsdata-mixed.log"))
    assert facts.sentences == 15
    assert facts.qualities == {"1": 2}


def test_a_line_that_is_no_sentence(open_file: OpenFile) -> None:
    """Junk between sentences is counted and not taken for one."""
    facts = read_nmea(open_file("nmea/data.log"))
    assert (facts.sentences, facts.other_lines) == (4, 1)


def test_start_up_without_a_position(open_file: OpenFile) -> None:
    """A receiver that has no position yet gives no time and quality 0."""
    facts = read_nmea(open_file("nmea/pygpsdata-nmeastartup.log"))
    assert (facts.first_time, facts.qualities) == ("", {"0": 1})


def test_midnight(tmp_path: Path) -> None:
    """A time of day that runs over midnight is counted, not taken for an earlier time."""
    path = tmp_path / "night.txt"
    path.write_bytes(
        b"".join(
            _sentence(f"GNGGA,{time},5000.0,N,00700.0,E,4,12,0.7,100.0,M,47.0,M,,")
            for time in ("235959.00", "000000.00", "000001.00")
        )
    )
    facts = read_nmea(path)
    assert (facts.first_time, facts.last_time, facts.midnights) == (
        "23:59:59.00",
        "00:00:01.00",
        1,
    )


@pytest.mark.parametrize(
    ("sides", "position"),
    [(("S", "W"), ("-7.500000", "-50.250000")), (("", "E"), None), (("N", ""), None)],
)
def test_sides_of_the_first_position(
    tmp_path: Path, sides: tuple[str, str], position: tuple[str, str] | None
) -> None:
    """A position whose side of the equator or of Greenwich is not told is none."""
    path = tmp_path / "a.txt"
    north, east = sides
    gga = f"GNGGA,120000.00,5015.0,{north},00730.0,{east},4,12,0.7,100.0,M,47.0,M,,"
    path.write_bytes(_sentence(gga))
    assert read_nmea(path).position_deg == position


@pytest.mark.parametrize(("fix", "separation"), [("0", ""), ("4", "47.0")])
def test_a_separation_without_a_solution_is_none(tmp_path: Path, fix: str, separation: str) -> None:
    """A receiver that is starting up writes zeros, which are no geoid height."""
    path = tmp_path / "a.txt"
    told = (("0", "0.0"), (fix, "47.0"))
    path.write_bytes(
        b"".join(
            _sentence(f"GNGGA,12000{n}.00,5015.0,N,00730.0,E,{each},12,0.7,100.0,M,{height},M,,")
            for n, (each, height) in enumerate(told)
        )
    )
    assert read_nmea(path).separation_m == separation


def _sentence(body: str) -> bytes:
    checksum = 0
    for byte in body.encode("ascii"):
        checksum ^= byte
    return f"${body}*{checksum:02X}\r\n".encode("ascii")


def test_a_text_without_sentences_is_refused(tmp_path: Path) -> None:
    """A text without a sentence is no NMEA log."""
    path = tmp_path / "notes.txt"
    path.write_text("nothing here\n", encoding="ascii")
    with pytest.raises(MalformedFileError):
        read_nmea(path)


def test_recognised_by_content(open_file: OpenFile) -> None:
    """A log is recognised by its sentences, and a RINEX file is not taken for one."""
    log = (open_file("nmea/data.log")).read_bytes()
    rinex = (open_file("rinex/demo.10o")).read_bytes()
    assert looks_like_nmea(log[:4096])
    assert not looks_like_nmea(rinex[:4096])
