"""`swathbook trace`: "what made this?"."""

from __future__ import annotations

import click

from ledger.cli.options import find_job, shared_options
from ledger.cli.show import show
from ledger.report.trace import make_json, make_screen
from ledger.trace import trace


@click.command("trace")
@click.argument("target", metavar="FILE")
@click.option("--onward", is_flag=True, help="Also what was made of it.")
@shared_options
@click.pass_context
def command(ctx: click.Context, target: str, *, onward: bool) -> None:
    """Tell what made a file, with which settings, from which raw data.

    FILE is a path, also renamed or copied off the job; a digest or its first eight digits; or an
    id (R1, F1, D1, entry:31). Exit status 1 when the book does not know it.
    """
    result = trace(find_job(ctx), target, onward=onward)
    show(ctx, result, make_json, make_screen)
    ctx.exit(0 if result.known else 1)
