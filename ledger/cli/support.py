"""`swathbook support`: a bundle for whoever helps, without names and places."""

from __future__ import annotations

import click

from ledger.cli.options import find_job, shared_options
from ledger.cli.show import show
from ledger.report.support import make_json, make_screen
from ledger.support import make_bundle
from ledger.walk import read_dropped_path


@click.command("support")
@click.argument("target", required=False, metavar="[FILE.zip]")
@shared_options
@click.pass_context
def command(ctx: click.Context, target: str | None) -> None:
    """Write settings, versions, headers and findings for somebody who helps.

    \b
    swathbook support
    swathbook support ../for-the-maker.zip

    No point is in it, no name and no place. The digest of it is entered, so that the book shows
    later what was given away; who made it is not, since that entry goes along.
    """  # noqa: D301 - \b keeps the lines apart in the help
    place = None if target is None else read_dropped_path(target)
    show(ctx, make_bundle(find_job(ctx), place), make_json, make_screen)
