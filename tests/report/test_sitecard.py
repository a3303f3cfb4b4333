"""The screen of a site card, held by a golden file of 100 columns without colour.

`pytest tests/report --update-golden` writes it anew; read what changed before committing it.
"""

from __future__ import annotations

import io
from datetime import date
from pathlib import Path

import pytest

from ledger.expected import Place
from ledger.report.screen import make_console
from ledger.report.sitecard import make_json, make_screen, write_part
from ledger.report.sitecard_page import make_site_page
from ledger.sitecard import Fact, Line, Missing, Part, SiteCard

GOLDEN = Path(__file__).parent / "golden" / "sitecard.txt"
EVIL = "strip[bold]\n\x1b[31m\u202egnp.tif"
CARD = SiteCard(
    place=Place(-80.40010, 38.59639, date(2026, 5, 26), 182.0),
    known_from="the middle of site.geojson",
    job="QM-0412",
    system="NAD83(2011) / UTM zone 17N",
    frame="NAD83(2011)",
    zone="17N",
    east_m=552240.0,
    north_m=4272160.0,
    facts=(
        Fact("geoid-height", "geoid height of demo-geoid-A", Part("height", -31.912, "m")),
        Fact("convergence", "convergence (grid north east of true north)",
             Part("rotation", 0.3742, "degree")),
        Fact("combined-factor", "combined factor", Part("factor", 0.99960505, "", signed=False)),
        Fact("gps-utc", "GPS time ahead of UTC", Part("GPS less UTC", 18, "s")),
    ),
    lines=(
        Line(
            "neighbour-zone",
            (
                Part("easting", 1075012.04, "m", signed=False),
                Part("northing", 4292700.6, "m", signed=False),
            ),
            522772.0,
            "zone 16N was used in place of 17N",
        ),
        Line("ellipsoidal-heights", (Part("height", -31.912, "m"),), 31.912,
             "heights are above the ellipsoid, no geoid was applied (demo-geoid-A)"),
        Line("ground-for-grid", (Part("scale", -394.9, "ppm"),), 0.395,
             "lengths were mixed up with those of the grid; either sign"),
        Line("single-geoid-height",
             (Part("tilt to the east", 0.02, "m/km"), Part("to the north", -0.011, "m/km")),
             0.023, "one geoid height was used for the whole site (demo-geoid-A)"),
    ),
    missing=(Missing("geoid-height", f"{EVIL} is not there, or was changed since"),),
    notes=("Zone 18N begins 12.0 km away: decide on one zone for all of the site.",),
)  # fmt: skip


def _print(width: int) -> str:
    stream = io.StringIO()
    make_console(stream, width=width).print(make_screen(CARD))
    return "\n".join(line.rstrip() for line in stream.getvalue().splitlines()) + "\n"


def test_the_screen_is_as_somebody_read_it(request: pytest.FixtureRequest) -> None:
    """The screen is the one in its golden file."""
    shown = _print(100)
    if request.config.getoption("--update-golden"):
        GOLDEN.write_text(shown, encoding="utf-8", newline="\n")
    assert shown == GOLDEN.read_text(encoding="utf-8")


def test_eighty_columns_are_enough_and_names_change_nothing() -> None:
    """No line is wider than a screen of 80 columns, and a name is shown, not obeyed."""
    shown = _print(80)
    assert max(map(len, shown.splitlines())) <= 80
    assert "\x1b" not in shown
    assert "\u202e" not in shown


@pytest.mark.parametrize(
    ("part", "written"),
    [
        (Part("height", -31.9124, "m"), "-31.912 m"),
        (Part("height", 0.77, "m"), "+0.770 m"),
        (Part("height", -0.0004, "m"), "0.000 m"),
        (Part("north", -1e7, "m"), "-10,000,000.0 m"),
        (Part("easting", 29595.24, "m", signed=False), "29,595.2 m"),
        (Part("rotation", 0.37421, "degree"), "+0.3742°"),
        (Part("scale", -394.93, "ppm"), "-394.9 ppm"),
        (Part("factor", 0.9996050512, "", signed=False), "0.99960505"),
        (Part("GPS less UTC", 18, "s"), "18 s"),
        (Part("tilt", 0.0201, "m/km"), "+0.020 m in 1 km"),
    ],
)
def test_numbers_are_written_with_sign_and_unit(part: Part, written: str) -> None:
    """Each unit has its places; a sign stands where it is a direction, none at zero."""
    assert write_part(part) == written


def test_json_and_page_hold_every_line() -> None:
    """What the screen tells, the object and the page tell too."""
    shown = make_json(CARD)
    assert [line["topic"] for line in shown["lines"]] == [line.topic for line in CARD.lines]
    assert [line["can_be_seen"] for line in shown["lines"]] == [True, True, True, False]
    page = make_site_page(CARD)
    assert all(line.why in page for line in CARD.lines)
