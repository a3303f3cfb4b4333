"""`swathbook handover`: a transmittal, and the papers that go with a delivery."""

from __future__ import annotations

from collections.abc import Mapping

import click

from ledger.cli.options import by_option, find_job, shared_options
from ledger.cli.progress import TerminalProgress
from ledger.cli.show import show
from ledger.handover import hand_over
from ledger.handover.package import Package, Wishes
from ledger.loading import load_part
from ledger.report import sheet_page
from ledger.report.handover import make_json, make_screen
from ledger.report.sheet_page import make_sheet
from ledger.walk import read_dropped_path

_REPORT, _LINEAGE = "report.html", "lineage.prov.json"


@click.command("handover")
@click.argument("folder", metavar="FOLDER")
@click.option("--to", required=True, metavar="FUNCTION", help="Who receives it, never a name.")
@click.option("--use", required=True, metavar="TEXT", help="What it is intended for.")
@click.option("--limits", default="", metavar="TEXT", help="What it is not to be used for.")
@click.option("--revision", default="", metavar="NAME", help="Else the next number.")
@click.option(
    "--supersedes",
    default="",
    metavar="ID",
    help="Transmittal that it replaces, or “none”; else the last of this folder to them.",
)
@click.option(
    "--despite",
    default="",
    metavar="REASON",
    help="Send it although the audit does not allow it; the reason stands on the sheet.",
)
@click.option("--bag", is_flag=True, help="Copy delivery and papers into a bag (BagIt 0.97), too.")
@click.option(
    "--with-places", is_flag=True, help="Send photos that tell where they were taken as they are."
)
@by_option
@shared_options
@click.pass_context
def command(  # noqa: PLR0913, PLR0917 - one for each option
    ctx: click.Context,
    folder: str,
    to: str,
    use: str,
    limits: str,
    revision: str,
    supersedes: str,
    despite: str,
    by: str,
    *,
    bag: bool,
    with_places: bool,
) -> None:
    """Enter that a folder was handed over, and write the papers that go with it.

    \b
    swathbook handover deliver --to "client engineer" --use "volumes, May"

    Every file is read again first. Exit status: 0 handed over, 1 refused.
    """  # noqa: D301 - \b keeps the lines apart in the help
    wishes = Wishes(
        to, use, limits, revision, supersedes, despite, by, with_places=with_places, bag=bag
    )
    with TerminalProgress() as progress:
        result = hand_over(find_job(ctx), read_dropped_path(folder), wishes, _make_papers, progress)
    show(ctx, result, make_json, make_screen)
    ctx.exit(1 if result.package is None else 0)


def _make_papers(package: Package) -> Mapping[str, bytes]:
    # Plots and the library of lineages take their time, and a refusal needs neither.
    make_report = load_part("ledger.report.delivery_page", "make_report")
    make_prov = load_part("ledger.report.lineage_prov", "make_prov")
    return {
        sheet_page.NAME: make_sheet(package),
        _REPORT: make_report(package),
        _LINEAGE: make_prov(package),
    }
