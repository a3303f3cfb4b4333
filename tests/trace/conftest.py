"""The book of a small survey: one flight, a rejected and an accepted run, a mixed delivery."""

from __future__ import annotations

from pathlib import Path

import pytest
from made_book import MadeBook, known

from ledger.model.known import KnownBy, KnownValue


@pytest.fixture
def survey(tmp_path: Path) -> MadeBook:
    """Give a job in which tile_14 of the delivery comes from the rejected run."""
    book = MadeBook(tmp_path / "job")
    fly(book)
    export(book)
    deliver(book)
    book.close()
    return book


def fly(book: MadeBook) -> None:
    """Enter raw files, the geoid grid, the rig and the flight."""
    book.write("raw/cap_p1.bin", "capture 1")
    book.write("raw/cap_p2.bin", "capture 2")
    book.write("geoid/demo-geoid-A.tif", "grid A")
    book.card("flight", "F1")
    book.register("raw/cap_p1.bin", "raw/cap_p2.bin", flight="F1")
    book.register("geoid/demo-geoid-A.tif", role="geoid")
    book.card(
        "rig",
        "G1",
        {
            "rig.scanner_serial": known("SU-07"),
            "rig.lever_arm_aircraft": known("0.000 0.105 -0.312", "m", KnownBy.MEASURED),
            "rig.lever_arm_convention": known("forward-right-down"),
            "rig.calibration_date": known("2026-01-12", by=KnownBy.CARRIED),
        },
    )
    book.card(
        "flight",
        "F1",
        {
            "flight.rig": known("G1"),
            "flight.mount_mode": known("drone"),
            "flight.position_source": known("aircraft receiver"),
            "flight.base_height": known("1.523", "m", KnownBy.MEASURED),
        },
    )


def settings(**more: KnownValue) -> dict[str, KnownValue]:
    """Return what both runs have in common, and what one has of its own."""
    return {
        "run.software": known("demo-proc", by=KnownBy.READ),
        "run.version": known("4.1.0", by=KnownBy.READ),
        "run.mount_mode": known("drone"),
        "run.position_source": known("aircraft receiver"),
        "run.lever_arm": known("0.000 0.105 -0.312", "m", KnownBy.ASSUMED),
        "run.crs": known("EPSG:6346"),
        "run.frame": known("NAD83(2011)"),
        **{key.replace("__", "."): value for key, value in more.items()},
    }


def export(book: MadeBook) -> None:
    """Enter a run with ellipsoidal heights and one with the geoid."""
    for number in (13, 14):
        book.write(f"out/R1/tile_{number}.las", f"ellipsoidal {number}")
        book.write(f"out/R2/tile_{number}.las", f"orthometric {number}")
    book.run(
        "out/R1/tile_13.las",
        "out/R1/tile_14.las",
        inputs=[{"flight": "F1"}],
        decision="undecided",
        values=settings(
            run__output_height_type=known("ellipsoidal"), run__geoid_name=known("none")
        ),
    )
    book.run(
        "out/R2/tile_13.las",
        "out/R2/tile_14.las",
        inputs=[{"flight": "F1"}],
        values=settings(
            run__output_height_type=known("orthometric"),
            run__geoid_name=known("demo-geoid-A"),
            run__geoid_version=known("1"),
            run__geoid_file=known("geoid/demo-geoid-A.tif"),
        ),
    )
    book.decide("R1", "rejected", "heights are ellipsoidal")


def deliver(book: MadeBook) -> None:
    """Put a delivery together, with one tile of the wrong run, and audit it."""
    book.write("deliver/tile_13.las", "orthometric 13")
    book.write("deliver/tile_14.las", "ellipsoidal 14")
    book.write("deliver/report.txt", "text")
    book.audit("deliver", verdict="do not send")
