"""A packed log is a text of strangers: it may break off, be damaged, or swell without end."""

from __future__ import annotations

import bz2
import gzip
import tracemalloc
from collections.abc import Callable
from pathlib import Path

import pytest

from ledger.content import read_facts
from ledger.errors import MalformedFileError
from ledger.fieldlogs.nmea import read_nmea
from ledger.fieldlogs.nmeatrack import read_nmea_track
from ledger.fieldlogs.opening import open_text
from ledger.fieldlogs.rinex import read_rinex
from ledger.fieldlogs.trackfacts import read_track_facts
from ledger.fieldlogs.tracktable import read_track_table

RINEX = (
    b"     3.05           OBSERVATION DATA    M (MIXED)           RINEX VERSION / TYPE\n"
    b"                                                            END OF HEADER\n"
)
SENTENCE = b"$GPZDA,080000.00,14,05,2026,00,00*69\r\n"
TABLE = b"time,easting,northing,height\n"
# Each reader of a packed log, and how a log of its kind begins.
READERS: dict[str, tuple[Callable[[Path], object], bytes]] = {
    "base.26o": (read_rinex, RINEX),
    "flight.nmea": (read_nmea, SENTENCE),
    "track.nmea": (read_nmea_track, SENTENCE),
    "facts.csv": (read_track_facts, TABLE),
    "path.csv": (read_track_table, TABLE),
}
PACKERS: dict[str, Callable[[bytes], bytes]] = {"gz": gzip.compress, "bz2": bz2.compress}
MIB = 1 << 20


def write_numbers(count: int) -> bytes:
    """Return lines that hardly shrink."""
    return b"".join(b"%d,%d,%d,%d\n" % (n, n * n * 7919, n**3 * 31, n**5) for n in range(count))


@pytest.mark.parametrize("ending", PACKERS)
@pytest.mark.parametrize("name", READERS)
def test_a_stream_that_breaks_off_late_is_malformed(tmp_path: Path, name: str, ending: str) -> None:
    """Its beginning is a log: what reads on is told, and so is whoever registers it."""
    reader, start = READERS[name]
    packed = PACKERS[ending](start + write_numbers(20_000))
    path = tmp_path / f"{name}.{ending}"
    path.write_bytes(packed[: len(packed) // 2])
    with pytest.raises(MalformedFileError, match="stream is broken"):
        reader(path)
    path.write_bytes(packed)
    reader(path)


@pytest.mark.parametrize("name", READERS)
def test_a_stream_damaged_in_its_middle_is_malformed(tmp_path: Path, name: str) -> None:
    """Bytes struck over are noticed where they are met, or by the sum at the end."""
    reader, start = READERS[name]
    packed = bytearray(gzip.compress(start + write_numbers(20_000)))
    middle = len(packed) // 2
    packed[middle : middle + 50] = b"\xff" * 50
    path = tmp_path / f"{name}.gz"
    path.write_bytes(packed)
    with pytest.raises(MalformedFileError, match="stream is broken"):
        reader(path)


@pytest.mark.parametrize("name", ["flight.nmea.gz", "base.26o.gz"])
def test_registering_a_log_that_breaks_off_late_keeps_the_fault(tmp_path: Path, name: str) -> None:
    """It is a fact of the file, and no error of the command."""
    _, start = READERS[name.removesuffix(".gz")]
    packed = gzip.compress(start + write_numbers(20_000))
    path = tmp_path / name
    path.write_bytes(packed[: len(packed) // 2])
    assert "the compressed stream is broken" in read_facts(path).fault


@pytest.mark.parametrize("name", ["base.26o", "flight.nmea", "track.nmea", "facts.csv"])
def test_a_line_without_end_fills_no_memory(tmp_path: Path, name: str) -> None:
    """Fifteen million letters without a line's end, from a packed file of 15 kB.

    The table of positions takes 20,000 lines at once, so that there it is 80 MB at most.
    """
    reader, start = READERS[name]
    path = tmp_path / f"{name}.gz"
    path.write_bytes(gzip.compress(start + b"0" * (15 * MIB)))
    tracemalloc.start()
    try:
        reader(path)
        most = tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
    assert most < 8 * MIB


@pytest.mark.parametrize("ending", PACKERS)
@pytest.mark.parametrize("name", READERS)
def test_a_log_that_swells_without_end_is_refused(tmp_path: Path, name: str, ending: str) -> None:
    """Forty million zeros stand for as many as anybody likes; the rest is not unpacked."""
    reader, start = READERS[name]
    path = tmp_path / f"{name}.{ending}"
    path.write_bytes(PACKERS[ending](start + (b"0" * 999 + b"\n") * (40 * MIB // 1000)))
    with pytest.raises(MalformedFileError, match="swells"):
        reader(path)


def test_a_log_that_is_large_and_shrinks_like_one_is_read(tmp_path: Path) -> None:
    """Beyond the size that is always read, what counts is how far it shrank."""
    line = b"$GPGGA,%06d.00,3300.000000,N,11700.000000,W,4,20,0.6,100.000,M,-33.000,M,1.0,0000*00\n"
    text = b"".join(line % n for n in range(200_000))
    assert len(text) > 16 * MIB
    path = tmp_path / "flight.nmea.bz2"
    path.write_bytes(bz2.compress(text))
    with open_text(path) as stream:
        assert sum(len(piece) for piece in iter(lambda: stream.read(MIB), b"")) == len(text)


def test_a_packed_text_of_two_bytes_a_letter_is_read(tmp_path: Path) -> None:
    """What a console of Windows wrote and somebody packed is the same text."""
    path = tmp_path / "log.txt.gz"
    path.write_bytes(gzip.compress("größe\n".encode("utf-16")))
    with open_text(path) as stream:
        assert stream.read().decode() == "größe\n"
