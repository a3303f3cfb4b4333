"""Text as programs of Windows leave it: UTF-16 and UTF-8 with a mark, CP-1252, CR LF at the ends.

Whatever the encoding, the same is read; what a format does not allow is refused in one line.
Consoles of Windows write UTF-16 where output goes into a file, which is how logs come into being.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from job_bench import JobBench

from ledger.content import read_facts
from ledger.model.artefact import Role
from ledger.settings.reading import read_settings
from ledger.tables.facts import read_point_table

ENCODINGS = ("utf-8", "utf-8-sig", "utf-16", "utf-16-be-mark", "cp1252")
ENDS = ("\n", "\r\n")

RINEX = (
    "     3.04           OBSERVATION DATA    M                   RINEX VERSION / TYPE\n"
    "MÜLLER                                                      MARKER NAME\n"
    "  30.000                                                    INTERVAL\n"
    "                                                            END OF HEADER\n"
    "> 2026 05 14 08 00  0.0000000  0  1\n"
    "> 2026 05 14 08 00 30.0000000  0  1\n"
)
# The checksum: the exclusive or of the 33 characters between $ and *.
NMEA = "started\n$GNZDA,080000.00,14,05,2026,00,00*76\n"
TABLE = "id,easting,northing,height\nMüller,1.0,2.0,3.0\nB,1.5,2.5,3.5\n"
SETTINGS = "[höhe]\nart = geländehöhe\nmount = drone\n"
FORM = '[flight]\nmount_mode = "drone"\nbase_mark = "Müller 7"\nbase_height = "1,480"\n'


def encode(text: str, encoding: str, end: str) -> bytes:
    """Return text in some encoding with some ends of lines."""
    ended = text.replace("\n", end)
    if encoding == "utf-16-be-mark":
        return b"\xfe\xff" + ended.encode("utf-16-be")
    return ended.encode(encoding)


@pytest.mark.parametrize("end", ENDS, ids=["LF", "CRLF"])
@pytest.mark.parametrize("encoding", ENCODINGS)
class TestEveryEncoding:
    """Each kind of text gives the same in each of them."""

    def test_a_log_of_a_base(self, tmp_path: Path, encoding: str, end: str) -> None:
        """RINEX is ASCII by its standard (IGS, RINEX 3.04); remarks are not always."""
        path = tmp_path / "base.26o"
        path.write_bytes(encode(RINEX, encoding, end))
        facts = read_facts(path)
        assert (facts.role, facts.fault) == (Role.BASE_LOG, "")
        assert facts.values["epochs"] == 2
        assert facts.values["interval_s"] == "30.000"
        assert facts.values["last_epoch"].startswith("2026-05-14")

    def test_a_log_of_a_flight(self, tmp_path: Path, encoding: str, end: str) -> None:
        """NMEA 0183 is ASCII; a console that wrote the log may have made two bytes of each."""
        path = tmp_path / "flight.log"
        path.write_bytes(encode(NMEA, encoding, end))
        facts = read_facts(path)
        assert (facts.role, facts.fault) == (Role.FLIGHT_LOG, "")
        assert facts.values["sentences"] == 1
        assert facts.values["date"] == "2026-05-14"
        assert "bad" not in facts.values or facts.values["bad"] == 0

    def test_a_table_of_points(self, tmp_path: Path, encoding: str, end: str) -> None:
        """Spreadsheets save checkpoints in each of these."""
        path = tmp_path / "checkpoints.csv"
        path.write_bytes(encode(TABLE, encoding, end))
        assert read_point_table(path).rows == 2
        assert read_facts(path).role is Role.CHECKPOINTS

    def test_settings(self, tmp_path: Path, encoding: str, end: str) -> None:
        """The same keys and values, letters with accents among them."""
        found = read_settings(encode(SETTINGS, encoding, end), "settings.ini")
        told = {setting.key: setting.value for setting in found.settings}
        assert told == {"höhe.art": "geländehöhe", "höhe.mount": "drone"}

    def test_a_form(self, tmp_path: Path, encoding: str, end: str) -> None:
        """A form is TOML, which is UTF-8; one that an editor saved with a mark is read too."""
        bench = JobBench(tmp_path)
        bench.write("form.toml", encode(FORM, encoding, end))
        if encoding == "cp1252":
            (line,) = bench.refuse("record", "flight", "F1", "--from", "form.toml")
            assert line.startswith("form.toml line 3: a character is not UTF-8")
            return
        bench.run("record", "flight", "F1", "--from", "form.toml")
        values: dict[str, Any] = bench.read_journal()[-1].values["values"]
        assert values["flight.base_mark"]["value"] == "Müller 7"
        assert values["flight.base_height"]["value"] == "1.480"

    def test_wishes(self, tmp_path: Path, encoding: str, end: str) -> None:
        """`job.toml` is TOML 1.0: UTF-8 without a mark; anything else is told in one line."""
        bench = JobBench(tmp_path)
        wishes = "[job]\ntitle = 'Geländehöhe'\n[folders]\nraw = 'raw'\n"
        bench.write("job.toml", encode(wishes, encoding, end))
        bench.write("out/report.pdf", b"%PDF")
        if encoding == "utf-8":
            assert bench.run("audit", "out").status == 3
            return
        (line,) = bench.refuse("audit", "out")
        assert line.startswith("job.toml line ")
        assert "save it again with the encoding UTF-8" in line


def test_a_text_in_two_bytes_without_a_mark_is_no_table(tmp_path: Path) -> None:
    """Nothing says what it is, so nothing is made up: it is kept by its bytes."""
    path = tmp_path / "checkpoints.csv"
    path.write_bytes(TABLE.encode("utf-16-le"))
    assert read_facts(path).role is Role.CAPTURE


def test_half_a_character_at_the_end_is_a_damaged_line(tmp_path: Path) -> None:
    """A log that was cut inside a character of two bytes keeps what came before."""
    path = tmp_path / "flight.log"
    path.write_bytes(encode(NMEA, "utf-16", "\r\n") + b"\x24")
    facts = read_facts(path)
    assert (facts.role, facts.fault, facts.values["sentences"]) == (Role.FLIGHT_LOG, "", 1)
