"""`swathbook compare`: what differs between two runs, two sets of files, or two jobs."""

from __future__ import annotations

import click

from ledger.cli.options import find_job, find_job_or_none, shared_options
from ledger.cli.progress import TerminalProgress
from ledger.cli.show import show
from ledger.compare import RunComparison
from ledger.compare.anything import Comparison, compare_anything
from ledger.compare.jobresult import JobComparison
from ledger.loading import load_part


@click.command("compare")
@click.argument("first", default="", metavar="[A")
@click.argument("second", default="", metavar="B]")
@click.option(
    "--expect",
    type=click.Choice(["same"]),
    help="End with status 1 when anything differs.",
)
@click.option("--outputs", is_flag=True, help="Of two runs, compare what they made.")
@shared_options
@click.pass_context
def command(
    ctx: click.Context, first: str, second: str, expect: str | None, *, outputs: bool
) -> None:
    """Hold two runs, two sets of files or two jobs against each other.

    \b
    swathbook compare                  the last two runs
    swathbook compare R1 R2            settings that differ, and what they can move
    swathbook compare R1 R2 --outputs  what they made: the same points or not
    swathbook compare out/R1 out/R2    the same points or not, in whatever tiles
    swathbook compare D1 deliver       a deliverable as it was audited, and a folder
    swathbook compare ../june ../july  may two surveys be subtracted?

    Files are the same byte for byte, the same points in other tiles or under another header, the
    same surface from another processing, or different; it is said what differs and where. With
    --expect same the status is 0 for the same bytes or points in the same system alone.
    """  # noqa: D301 - \b keeps the lines apart in the help
    with TerminalProgress() as progress:
        job = find_job_or_none(ctx) if first and second else find_job(ctx)
        result = compare_anything(job, first, second, progress, outputs=outputs)
    _show(ctx, result)
    if expect and not result.is_same:
        ctx.exit(1)


def _show(ctx: click.Context, result: Comparison) -> None:
    if isinstance(result, RunComparison):
        view = (
            load_part("ledger.report.compare", "make_json"),
            load_part("ledger.report.compare", "make_screen"),
        )
    elif isinstance(result, JobComparison):
        view = (
            load_part("ledger.report.comparejobs", "make_json"),
            load_part("ledger.report.comparejobs", "make_screen"),
        )
    else:
        view = (
            load_part("ledger.report.comparesets", "make_json"),
            load_part("ledger.report.comparesets", "make_screen"),
        )
    show(ctx, result, *view)
