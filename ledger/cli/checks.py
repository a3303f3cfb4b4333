"""`swathbook checks`: what is checked, by what, against which criterion."""

from __future__ import annotations

import click

from ledger.checks import list_checks
from ledger.cli.options import find_job_or_none, shared_options
from ledger.cli.show import show
from ledger.report.checks import make_json, make_screen


@click.command("checks")
@shared_options
@click.pass_context
def command(ctx: click.Context) -> None:
    """List every check with its plugin, its criteria and where they come from.

    Inside a job the criteria are those of its job.toml, else the defaults.
    """
    show(ctx, list_checks(find_job_or_none(ctx)), make_json, make_screen)
