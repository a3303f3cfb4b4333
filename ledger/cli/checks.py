"""`swathbook checks`: what is checked, by what, against which criterion."""

from __future__ import annotations

import click

from ledger.checks import list_checks
from ledger.cli.options import find_job_or_none, shared_options
from ledger.cli.progress import TerminalProgress
from ledger.cli.show import show
from ledger.cli.streams import own_streams
from ledger.report.checks import make_json, make_screen


@click.command("checks")
@shared_options
@click.pass_context
def command(ctx: click.Context) -> None:
    """List every check with its plugin, its criteria and where they come from.

    Inside a job the criteria are those of its job.toml, else the defaults.
    """
    own_streams(ctx)
    with TerminalProgress() as progress:
        result = list_checks(find_job_or_none(ctx), progress)
    show(ctx, result, make_json, make_screen)
