"""RINEX files as real receivers wrote them; facts as counted in the open test data."""

from __future__ import annotations

from pathlib import Path

import pytest
from open_data import OpenFile

from ledger.errors import MalformedFileError, ShortFileError
from ledger.fieldlogs.opening import open_text
from ledger.fieldlogs.rinex import read_rinex
from ledger.signs import looks_like_rinex

# Facts read from these files when the collection was made (public repositories of RINEX readers).
REAL = {
    "AJAC3550.21O": ("2.11", "AJAC", "LEICA GR50", ("0.0000",) * 3, "30.0000", 2),
    "KOSG0010.95O": ("2", "KOSG", "ROGUE SNR-8", ("0.1050", "0.0000", "0.0000"), "30", 3),
    "aopr0010.17o": ("2.10", "aopr", "ASHTECH UZ-12", ("0.0000",) * 3, "", 3),
    "barq071q.19o": ("2.11", "BARQ", "LEICA GR25", ("0.0440", "0.0000", "0.0000"), "30.0000", 1),
    "ALAC00ESP_R_20220090000_01D_30S_MO.rnx": (
        "3.04",
        "ALAC",
        "LEICA GR50",
        ("3.0350", "0.0000", "0.0000"),
        "30.000",
        3,
    ),
    "DUTH0630.22O": (
        "3.02",
        "DUTH",
        "LEICA GRX1200GGPRO",
        ("0.1830", "0.0000", "0.0000"),
        "30.000",
        3,
    ),
    "gps.23O.gz": ("3.02", "DEFAULT MARKER NAME", "Software Receiver", ("0.0000",) * 3, "", 216),
    "demo.10o": ("2.11", "MRKR", "ASHTECH UZ-12", ("0.9030", "0.0000", "0.0000"), "30.000", 2),
    "demo3.10o": ("3.01", "MRKR", "ASHTECH UZ-12", ("0.9030", "0.0000", "0.0000"), "30.000", 2),
}


@pytest.mark.parametrize("name", sorted(REAL))
def test_real_headers_and_epochs(open_file: OpenFile, name: str) -> None:
    """Version, marker, receiver, antenna height, interval and epochs are those in the file."""
    facts = read_rinex(open_file(f"rinex/{name}"))
    version, marker, receiver, delta, interval, epochs = REAL[name]
    assert (facts.version, facts.marker, facts.receiver) == (version, marker, receiver)
    assert (facts.antenna_delta_m, facts.interval_s, facts.epochs) == (delta, interval, epochs)


def test_a_header_may_claim_a_day_that_the_body_does_not_hold(open_file: OpenFile) -> None:
    """Header times and body times are told apart."""
    facts = read_rinex(open_file("rinex/KOSG0010.95O"))
    assert facts.header_last == "1995-01-01T23:59:30.000"
    assert facts.last_epoch == "1995-01-01T20:44:30.000"


def test_a_position_of_zeros_is_no_position(open_file: OpenFile) -> None:
    """A receiver without a position writes zeros; they must not become the centre of the earth."""
    assert read_rinex(open_file("rinex/gps.23O.gz")).position_m is None


@pytest.mark.parametrize("written", ["nan", "inf", "-inf"])
def test_a_position_that_is_no_number_is_none(
    tmp_path: Path, open_file: OpenFile, written: str
) -> None:
    """From nan, the site would be told as lying half the way round the earth."""
    text = open_file("rinex/demo.10o").read_text(encoding="ascii")
    path = tmp_path / "a.10o"
    path.write_text(text.replace("4789028.4701", f"{written:>12}"), encoding="ascii")
    assert read_rinex(open_file("rinex/demo.10o")).position_m is not None
    assert read_rinex(path).position_m is None


def test_an_epoch_just_before_the_minute_stays_in_it(tmp_path: Path, open_file: OpenFile) -> None:
    """Receivers write 59.9999999 s; rounded to the sixtieth second it could not be read again."""
    text = open_file("rinex/demo.10o").read_text(encoding="ascii")
    path = tmp_path / "a.10o"
    path.write_text(text.replace("  0 30.0000000", "  0 59.9999999"), encoding="ascii")
    assert read_rinex(path).last_epoch == "2010-03-05T00:00:59.999"


def test_compact_files_give_their_header(open_file: OpenFile) -> None:
    """A Hatanaka-compressed file gives the header of the file it was made from."""
    plain = read_rinex(open_file("rinex/AJAC3550.21O"))
    compact = read_rinex(open_file("rinex/AJAC3550.21D"))
    assert compact.compact
    assert (compact.marker, compact.position_m) == (plain.marker, plain.position_m)


def test_a_bzip2_file_is_read(open_file: OpenFile) -> None:
    """Compression by name suffix is undone."""
    name = "P43300USA_R_20190012056_17M_15S_MO.crx.bz2"
    assert read_rinex(open_file(f"rinex/{name}")).marker == "p433"


def test_junk_in_an_epoch_line_is_counted(open_file: OpenFile) -> None:
    """A damaged epoch line is skipped and counted, the epochs around it are kept."""
    facts = read_rinex(open_file("rinex-malformed/junk_time_obs3.10o"))
    assert (facts.epochs, facts.bad_lines) == (2, 1)


@pytest.mark.parametrize("name", ["blank.10o", "blank3.10o"])
def test_no_epochs_is_a_fact(open_file: OpenFile, name: str) -> None:
    """A header without a body gives no epoch and no error."""
    facts = read_rinex(open_file(f"rinex-malformed/{name}"))
    assert (facts.epochs, facts.first_epoch) == (0, "")


def test_a_cut_header_is_short(tmp_path: Path, open_file: OpenFile) -> None:
    """A file that ends inside its header is called short."""
    whole = (open_file("rinex/demo.10o")).read_bytes()
    cut = tmp_path / "cut.10o"
    cut.write_bytes(whole[:800])
    with pytest.raises(ShortFileError):
        read_rinex(cut)


def test_another_text_is_refused(tmp_path: Path) -> None:
    """A text that is no RINEX file is refused by its first line."""
    path = tmp_path / "notes.26o"
    path.write_text("wind from the west\n", encoding="ascii")
    with pytest.raises(MalformedFileError):
        read_rinex(path)


def test_a_broken_compressed_stream_is_malformed(tmp_path: Path, open_file: OpenFile) -> None:
    """A cut gzip stream gives one of our errors."""
    whole = (open_file("rinex/gps.23O.gz")).read_bytes()
    cut = tmp_path / "cut.23O.gz"
    cut.write_bytes(whole[:2000])
    with pytest.raises(MalformedFileError):
        read_rinex(cut)


@pytest.mark.parametrize("name", sorted(REAL))
def test_recognised_by_the_first_line(open_file: OpenFile, name: str) -> None:
    """A RINEX file is recognised by content, whatever its name, packed or not."""
    with open_text(open_file(f"rinex/{name}")) as stream:
        assert looks_like_rinex(stream.read(200))


HEADER_2 = (
    "     2.11           OBSERVATION DATA    M (MIXED)           RINEX VERSION / TYPE\n"
    "  2026     5    14     8     0    0.0000000     {system:3}         TIME OF FIRST OBS\n"
    "                                                            END OF HEADER\n"
)


@pytest.mark.parametrize(
    "line",
    [
        " 26 13  3  0  0  0.0000000  0  1G13",
        " 26  5 32  0  0  0.0000000  0  1G13",
        " 26  5 14 24  0  0.0000000  0  1G13",
        " 26  5 14  0 60  0.0000000  0  1G13",
        " 26  5 14  0  0 60.0000000  0  1G13",
        " 26  5 14  0  0 0 .0000000  0  1G13",
    ],
)
def test_a_time_that_is_none_is_counted(tmp_path: Path, line: str) -> None:
    """An epoch line with a time that does not exist is bad, not an epoch; the next one counts."""
    good = " 26  5 14  8  0 30.0000000  0  1G13"
    sight = " 130321269.80108 101549030.34908  24799319.672 9"
    path = tmp_path / "base.26o"
    path.write_text(HEADER_2.format(system="GPS") + f"{line}\n{sight}\n{good}\n{sight}\n")
    facts = read_rinex(path)
    assert (facts.epochs, facts.bad_lines) == (1, 1)
    assert facts.first_epoch == "2026-05-14T08:00:30.000"


def test_a_leap_second_is_a_time(tmp_path: Path) -> None:
    """The 61st second of the last minute of a day is one that was put in."""
    path = tmp_path / "base.26o"
    text = HEADER_2.format(system="GLO") + " 16 12 31 23 59 60.0000000  0  1R13\n"
    path.write_text(text)
    assert (read_rinex(path).epochs, read_rinex(path).bad_lines) == (1, 0)


@pytest.mark.parametrize(("written", "system"), [("GPS", "GPS"), (" GPS", "GPS"), ("   ", "")])
def test_the_time_system_is_read_a_column_aside(tmp_path: Path, written: str, system: str) -> None:
    """Some programs write the time system one column too far; blank is blank."""
    path = tmp_path / "base.26o"
    path.write_text(HEADER_2.format(system=written))
    assert read_rinex(path).time_system == system


def test_a_body_that_is_not_read_has_no_count(open_file: OpenFile) -> None:
    """Of a compressed body nothing is said, not even that it holds no epoch."""
    facts = read_rinex(open_file("rinex/AJAC3550.21D"))
    assert (facts.epochs, facts.bad_lines, facts.first_epoch) == (None, None, "")
