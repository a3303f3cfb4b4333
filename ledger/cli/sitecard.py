"""`swathbook sitecard`: before the flight, the numbers to expect at a site."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import click

from ledger.cli.options import find_job_or_none, shared_options, wants_json
from ledger.cli.pagefile import require_page, write_page
from ledger.cli.show import show
from ledger.loading import load_part
from ledger.model.filename import escape_for_screen
from ledger.report.sitecard import make_json, make_screen
from ledger.sitecard import SiteCard, SiteWish, make_site_card
from ledger.walk import read_dropped_path


@click.command("sitecard")
@click.argument("file", required=False, metavar="[FILE]")
@click.option("--at", default="", metavar="LON,LAT", help="The place, in degrees; or EAST,NORTH.")
@click.option("--crs", default="", metavar="SYSTEM", help="Map system, such as EPSG:6346.")
@click.option("--frame", default="", metavar="NAME", help="Frame, such as NAD83(2011).")
@click.option(
    "--date",
    "day",
    type=click.DateTime(["%Y-%m-%d"]),
    metavar="YEAR-MONTH-DAY",
    help="Day of the work; else today.",
)
@click.option(
    "--height",
    "height_m",
    type=float,
    metavar="METRES",
    help="Height of the ground above the ellipsoid.",
)
@click.option(
    "--speed",
    "speed_m_per_s",
    type=float,
    default=5.0,
    show_default=True,
    metavar="M/S",
    help="Speed over ground.",
)
@click.option(
    "--geoid", "grids", multiple=True, metavar="FILE", help="A geoid grid to look at, too."
)
@click.option("--page", metavar="FILE.html", help="Make a page for a printer, too.")
@shared_options
@click.pass_context
def command(  # noqa: PLR0913 - one for each option
    ctx: click.Context,
    file: str | None,
    *,
    at: str,
    crs: str,
    frame: str,
    day: datetime | None,
    height_m: float | None,
    speed_m_per_s: float,
    grids: tuple[str, ...],
    page: str | None,
) -> None:
    """Tell the numbers to expect at a site: if you see this number, this is why.

    \b
    swathbook sitecard                              in a job whose job.toml names a boundary
    swathbook sitecard --at -80.4,38.596            anywhere, with no job
    swathbook sitecard --at 552240,4272160 --crs EPSG:6346
    swathbook sitecard tile.laz --geoid geoid.tif --page card.html

    Nothing is entered, and no network is asked. What cannot be told is named.
    """  # noqa: D301 - \b keeps the lines apart in the help
    job = find_job_or_none(ctx)
    wish = SiteWish(
        day=datetime.now(UTC).date() if day is None else day.date(),
        at=at.strip(),
        file=None if file is None else read_dropped_path(file),
        crs=crs.strip(),
        frame=frame.strip(),
        height_m=height_m,
        speed_m_per_s=speed_m_per_s,
        grids=tuple(read_dropped_path(grid) for grid in grids),
    )
    path = None if page is None else _prepare_page(page, job)
    card = make_site_card(job, wish)
    if path is not None:
        _make_page(path, card)
    show(ctx, card, make_json, make_screen)
    if path is not None and not wants_json(ctx):
        where = escape_for_screen(str(path))
        click.echo(f"\nThe page lies in {where}: open it in a browser and print it.")


def _prepare_page(named: str, job: Path | None) -> Path:
    """Return where the page will lie, refused before anything is computed."""
    path = read_dropped_path(named)
    require_page(path, job)
    return path


def _make_page(path: Path, card: SiteCard) -> None:
    text: str = load_part("ledger.report.sitecard_page", "make_site_page")(card)
    write_page(path, text)
