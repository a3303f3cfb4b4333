"""`swathbook` alone: where does the job stand?"""

from __future__ import annotations

from pathlib import Path

import click

from ledger.cli.options import find_job_or_none, shared_options
from ledger.cli.show import show
from ledger.report.status import make_json, make_screen
from ledger.status import read_status


@click.command("status")
@shared_options
@click.pass_context
def command(ctx: click.Context) -> None:
    """Say where the job stands and what to type next."""
    show(ctx, read_status(find_job_or_none(ctx) or Path.cwd()), make_json, make_screen)
