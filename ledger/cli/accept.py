"""`swathbook accept`: a named function takes a minor finding, with a reason."""

from __future__ import annotations

import click

from ledger.accept import accept_findings
from ledger.cli.options import find_job, shared_options
from ledger.cli.show import show
from ledger.report.accept import make_json, make_screen


@click.command("accept")
@click.argument("findings", nargs=-1, required=True, metavar="ID…")
@click.option(
    "--by",
    required=True,
    metavar="FUNCTION",
    help="Who takes it: a function such as “site engineer”, never a name.",
)
@click.option("--reason", required=True, metavar="TEXT", help="Why it may be sent all the same.")
@shared_options
@click.pass_context
def command(ctx: click.Context, findings: tuple[str, ...], by: str, reason: str) -> None:
    """Take minor findings, each by its id or the first four characters of it.

    \b
    swathbook accept 3f2a --by "site engineer" --reason "pond, no returns"
    swathbook accept 3f2a 90c1 --by office --reason "agreed by telephone"

    Several are taken together or not at all. No points are read again. A major finding cannot be
    accepted. What was accepted before for the same reason is not entered twice.
    """  # noqa: D301 - \b keeps the lines apart in the help
    show(ctx, accept_findings(find_job(ctx), findings, by, reason), make_json, make_screen)
