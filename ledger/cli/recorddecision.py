"""`swathbook record decision`: whether the outputs of a run may be used."""

from __future__ import annotations

import click

from ledger.cli.options import by_option, find_job, shared_options
from ledger.cli.show import show
from ledger.record.decision import record_decision
from ledger.report.record import make_json, make_screen


@click.command("decision")
@click.argument("run", metavar="RUN")
@click.argument("decision", metavar="DECISION")
@click.option("--reason", default="", metavar="TEXT", help="Why, in one line.")
@by_option
@shared_options
@click.pass_context
def command(ctx: click.Context, run: str, decision: str, reason: str, by: str) -> None:
    """Record what became of a run or step: accepted, rejected, superseded or undecided.

    \b
    swathbook record decision R2 accepted --reason "fits the checkpoints"
    swathbook record decision R1 rejected --reason "heights left ellipsoidal"

    The latest decision counts, earlier ones stay in the book. Outputs of a rejected or superseded
    run are found in an audit, and then the folder must not be sent.
    """  # noqa: D301 - \b keeps the lines apart in the help
    result = record_decision(find_job(ctx), run, decision, reason, by)
    show(ctx, result, make_json, make_screen)
