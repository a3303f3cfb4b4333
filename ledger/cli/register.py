"""`swathbook register`: "these are my raw files"."""

from __future__ import annotations

import click

from ledger.cli.options import by_option, find_job, shared_options
from ledger.cli.progress import TerminalProgress
from ledger.cli.show import show
from ledger.model.artefact import Role
from ledger.register import RegisterOptions, register_paths
from ledger.report.register import make_json, make_screen
from ledger.walk import read_dropped_path


@click.command("register")
@click.argument("paths", nargs=-1, required=True, metavar="PATH…")
@click.option(
    "--as",
    "role",
    type=click.Choice([str(role) for role in Role]),
    help="What all these files are; guessed from their content when left out.",
)
@click.option("--flight", default="", metavar="ID", help="Flight that they belong to (F1 …).")
@by_option
@shared_options
@click.pass_context
def command(
    ctx: click.Context, paths: tuple[str, ...], role: str | None, flight: str, by: str
) -> None:
    """Enter raw files and folders: hash them, read what they say of themselves.

    Nothing is written beside them. After an interruption the same command goes on where it stopped.
    """
    options = RegisterOptions(role=Role(role) if role else None, flight=flight, by=by)
    with TerminalProgress() as progress:
        result = register_paths(
            find_job(ctx), [read_dropped_path(p) for p in paths], options, progress
        )
    show(ctx, result, make_json, make_screen)
