"""`swathbook record deletion`: what was deleted on purpose."""

from __future__ import annotations

import click

from ledger.cli.options import by_option, find_job, shared_options
from ledger.cli.show import show
from ledger.record.deletion import record_deletion
from ledger.report.deletion import make_json, make_screen
from ledger.walk import read_dropped_path


@click.command("deletion")
@click.argument("paths", nargs=-1, required=True, metavar="PATH…")
@click.option("--reason", required=True, metavar="TEXT", help="Why they were deleted.")
@by_option
@shared_options
@click.pass_context
def command(ctx: click.Context, paths: tuple[str, ...], reason: str, by: str) -> None:
    """Enter that recorded files were deleted on purpose, so that nobody looks for them.

    \b
    swathbook record deletion out/R1 --reason "rejected run, 12 GB"

    Nothing is deleted by this program: delete first, then enter it. Digests and records stay.
    """  # noqa: D301 - \b keeps the lines apart in the help
    gone = [read_dropped_path(path) for path in paths]
    show(ctx, record_deletion(find_job(ctx), gone, reason, by), make_json, make_screen)
