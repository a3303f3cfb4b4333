"""`swathbook trace`: "what made this?"."""

from __future__ import annotations

import click
from rich.console import RenderableType

from ledger.cli.options import find_job, shared_options
from ledger.cli.show import show
from ledger.report.trace import make_screen
from ledger.report.trace_json import make_json
from ledger.trace import TraceResult, trace


@click.command("trace")
@click.argument("target", metavar="FILE")
@click.option("--onward", is_flag=True, help="The other way: what was made of it, and audited.")
@click.option("--all", "everything", is_flag=True, help="Every record, value and file in full.")
@shared_options
@click.pass_context
def command(ctx: click.Context, target: str, *, onward: bool, everything: bool) -> None:
    """Tell what made a file, with which settings, from which raw data.

    FILE is a path, also renamed or copied off the job; a digest or its first eight digits; an id
    (R1, F1, G1, D1, entry:31); or the id of a finding. Exit status 1 when the book does not know
    it.
    """

    def make_chosen_screen(result: TraceResult) -> RenderableType:
        return make_screen(result, everything=everything)

    result = trace(find_job(ctx), target, onward=onward)
    show(ctx, result, make_json, make_chosen_screen)
    ctx.exit(0 if result.known else 1)
