"""`swathbook accept`: a named function takes a minor finding, with a reason."""

from __future__ import annotations

import click

from ledger.accept import accept_finding
from ledger.cli.options import find_job, shared_options
from ledger.cli.show import show
from ledger.report.accept import make_json, make_screen


@click.command("accept")
@click.argument("finding", metavar="FINDING")
@click.option(
    "--by",
    required=True,
    metavar="FUNCTION",
    help="Who takes it: a function such as “site engineer”, never a name.",
)
@click.option("--reason", required=True, metavar="TEXT", help="Why it may be sent all the same.")
@shared_options
@click.pass_context
def command(ctx: click.Context, finding: str, by: str, reason: str) -> None:
    """Take a minor finding, by its id or the first four characters of it.

    No points are read again. A major finding cannot be accepted.
    """
    show(ctx, accept_finding(find_job(ctx), finding, by, reason), make_json, make_screen)
