"""`swathbook start`: a new job."""

from __future__ import annotations

import click

from ledger.cli.options import by_option, shared_options
from ledger.cli.show import show
from ledger.report.start import make_json, make_screen
from ledger.start import start_job
from ledger.walk import read_dropped_path


@click.command("start")
@click.argument("folder", metavar="FOLDER")
@click.option("--reference", default="", metavar="TEXT", help="The client's number for the job.")
@click.option("--title", default="", metavar="TEXT", help="What the job is.")
@click.option("--like", metavar="JOB", help="Take specification and rigs over from another job.")
@by_option
@shared_options
@click.pass_context
def command(  # noqa: PLR0913 - one for each option
    ctx: click.Context, folder: str, *, reference: str, title: str, like: str | None, by: str
) -> None:
    """Begin a new job: make its folder, its book and its job.toml.

    What is taken over with --like proves nothing until it is confirmed.
    """
    other = read_dropped_path(like) if like is not None else None
    show(
        ctx,
        start_job(read_dropped_path(folder), reference, title, other, by),
        make_json,
        make_screen,
    )
