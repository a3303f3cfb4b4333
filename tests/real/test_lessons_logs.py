"""What real logs of bases and aircraft teach, each registered by the real command."""

from __future__ import annotations

import re

from job_bench import JobBench
from spoiled_survey import REAL


def test_a_base_log_that_claims_a_day(bench: JobBench) -> None:
    """Lesson 14: header and body of a base log are told apart; a position of zeros is none."""
    bench.copy(REAL / "demo.10o", "raw/base.10o")
    text = (REAL / "demo.10o").read_text(encoding="ascii")
    zeros = f"{'0.0000':>14}{'0.0000':>14}{'0.0000':>14}".ljust(60) + "APPROX POSITION XYZ"
    text = re.sub(r"^.*APPROX POSITION XYZ", zeros, text, flags=re.MULTILINE)
    bench.write("raw/zeros.10o", text.encode())
    base, no_position = bench.ask("register", "raw")["files"]
    facts = base["facts"]
    assert (facts["header_first"], facts["header_last"]) == (
        "2010-03-05T00:00:00.000",
        "2010-03-05T23:59:30.000",
    )
    assert (facts["epochs"], facts["last_epoch"]) == (2, "2010-03-05T00:00:30.000")
    assert "position_m" in facts
    assert "position_m" not in no_position["facts"]
    assert no_position["facts"]["marker"] == facts["marker"]


def sign(body: str) -> bytes:
    """Return an NMEA sentence with its checksum."""
    total = 0
    for byte in body.encode():
        total ^= byte
    return f"${body}*{total:02X}\r\n".encode()


def test_a_flight_log_over_midnight(bench: JobBench) -> None:
    """Lesson 15: midnight, banners and binary between sentences; float and differential fixes."""
    fixes = [("235958.00", 5), ("235959.00", 5), ("000000.00", 2), ("000001.00", 2)]
    lines = [
        sign(f"GNGGA,{clock},3403.47,N,11711.81,W,{quality},12,0.7,403.6,M,-32.1,M,,")
        for clock, quality in fixes
    ]
    lines[2:2] = [b"receiver banner 1.0\r\n", b"\xb5\x62\x01\x07\x00$\xff\r\n"]
    bench.write("raw/log.txt", b"".join(lines))
    bench.copy(REAL / "TrimbleR2SampleData.txt", "raw/real.txt")
    made, real = bench.ask("register", "raw")["files"]
    assert made["role"] == real["role"] == "flight-log"
    facts = made["facts"]
    assert (facts["first_time"], facts["last_time"]) == ("23:59:58.00", "00:00:01.00")
    assert (facts["midnights"], facts["qualities"]) == (1, {"2": 2, "5": 2})
    assert (facts["sentences"], facts["bad"], facts["other_lines"]) == (4, 1, 1)
    assert real["facts"]["qualities"] == {"2": 25, "5": 9}
