"""`swathbook compare`: what differs between two runs, and how many metres that can move."""

from __future__ import annotations

import click

from ledger.cli.options import find_job, shared_options
from ledger.cli.show import show
from ledger.compare import compare_runs
from ledger.report.compare import make_json, make_screen


@click.command("compare")
@click.argument("first", default="", metavar="[A")
@click.argument("second", default="", metavar="B]")
@click.option(
    "--expect",
    type=click.Choice(["same"]),
    help="End with status 1 when anything differs.",
)
@shared_options
@click.pass_context
def command(ctx: click.Context, first: str, second: str, expect: str | None) -> None:
    """Hold two runs or steps against each other: which settings differ, and what that can move.

    \b
    swathbook compare          the last two runs
    swathbook compare R1 R2    these two

    Differences that can move the numbers come first, with the metres that this job's own records
    allow to predict. Settings that only one of them has are listed apart.
    """  # noqa: D301 - \b keeps the lines apart in the help
    result = compare_runs(find_job(ctx), first, second)
    show(ctx, result, make_json, make_screen)
    if expect and not result.is_same:
        ctx.exit(1)
