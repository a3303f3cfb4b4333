"""A job as people keep it, and the screen of a trace through it on a laptop."""

from __future__ import annotations

from made_book import MadeBook, known
from printed import print_screen

from ledger.model.known import KnownBy, KnownValue
from ledger.report.trace import make_screen
from ledger.trace import trace

COLUMNS, LINES = 80, 24


RIG = {
    "rig.scanner_serial": known("SU-07"),
    "rig.aircraft_serial": known("AC-03"),
    "rig.lever_arm_aircraft": known(["0.112", "0.004", "0.231"], "m"),
    "rig.lever_arm_convention": known("forward-right-down"),
    "rig.lever_arm_measured": known("2026-04-02"),
    "rig.bracket": known("B-2"),
    "rig.calibration_date": known("2026-01-15"),
    "rig.calibration_file": KnownValue("c" * 64, where="cal/SU-07.xml"),
    "rig.calibration_serial": known("SU-07"),
}
FLIGHT = {
    "flight.rig": known("G1"),
    "flight.platform": known("drone"),
    "flight.mount_mode": known("drone"),
    "flight.orientation": known("inverted"),
    "flight.position_source": known("aircraft receiver"),
    "flight.scanner_antenna_fitted": known(value=False),
    "flight.height_type": known("ellipsoidal"),
    "flight.frame": known("NAD83(2011)"),
    "flight.base_mark": known("QM1"),
    "flight.base_height": known("1.523", "m"),
    "flight.base_height_again": known("1.524", "m"),
    "flight.base_height_kind": known("vertical"),
    "flight.base_kind": known("own base"),
    "flight.lines": known(8),
    "flight.wind": known("4 m/s from the west"),
    "flight.takeoff": known("2026-05-12T14:00:00Z"),
    "flight.landing": known("2026-05-12T14:18:00Z"),
}
RUN = {
    "run.software": known("demo-proc", by=KnownBy.READ),
    "run.version": known("4.1.0", by=KnownBy.READ),
    "run.mount_mode": known("drone"),
    "run.orientation": known("inverted", by=KnownBy.CARRIED),
    "run.position_source": known("aircraft receiver"),
    "run.lever_arm": known(["0.112", "0.004", "0.231"], "m"),
    "run.lever_arm_from": known("aircraft antenna"),
    "run.lever_arm_convention": known("forward-right-down"),
    "run.crs": known("EPSG:6346"),
    "run.frame": known("NAD83(2011)"),
    "run.input_height_type": known("ellipsoidal"),
    "run.output_height_type": known("orthometric"),
    "run.vertical_datum": known("NAVD88"),
    "run.geoid_name": known("demo-geoid-A"),
    "run.geoid_version": known("1"),
    "run.geoid_file": known("geoid/demo-geoid-A.tif"),
    "run.control_used": known(value=False),
}


def fly(book: MadeBook, flight: str) -> None:
    """Enter the raw files of a flight."""
    captures = [f"raw/{flight}/cap_0412_p{part}.bin" for part in range(1, 6)]
    others = [f"raw/{flight}/{name}" for name in ("base.26o", "nmea.txt", "mount.png")]
    for path in (*captures, *others):
        book.write(path, path)
    book.card("flight", flight)
    book.register(*captures, flight=flight)
    book.register(*others, flight=flight, role="base-log")


def export(book: MadeBook, run: str, flight: str = "F1", **parts: object) -> None:
    """Enter a run that made two tiles of a flight."""
    paths = [f"out/{run}/tile_{number}.las" for number in (13, 14)]
    for path, number in zip(paths, (13, 14), strict=True):
        book.write(path, f"{run} {number}")
    book.run(*paths, inputs=[{"flight": flight}], **parts)  # type: ignore[arg-type]


def show_trace(book: MadeBook, text: str, *, onward: bool = False, everything: bool = False) -> str:
    """Return the screen of a trace on a laptop."""
    result = trace(book.folder, text, onward=onward)
    return print_screen(make_screen(result, everything=everything), COLUMNS)


def require_one_screen(shown: str) -> None:
    """Fail where a screen is larger than a laptop's, its prompt left out."""
    lines = shown.splitlines()
    assert len(lines) < LINES, f"{len(lines)} lines"
    assert max(len(line) for line in lines) <= COLUMNS
