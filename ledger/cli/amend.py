"""`swathbook amend`: strike a value through and write the right one beside it, with a reason."""

from __future__ import annotations

import click

from ledger.amend import amend_record
from ledger.cli.options import by_option, find_job, shared_options
from ledger.cli.show import show
from ledger.report.amend import make_json, make_screen


@click.command("amend")
@click.argument("record", metavar="ID")
@click.option("--set", "settings", multiple=True, metavar="KEY=VALUE", help="One right value.")
@click.option("--blank", "blanks", multiple=True, metavar="KEY", help="Strike this through alone.")
@click.option("--reason", default="", metavar="TEXT", help="Why, in one line.")
@by_option
@shared_options
@click.pass_context
def command(  # noqa: PLR0913 - one for each option
    ctx: click.Context,
    *,
    record: str,
    settings: tuple[str, ...],
    blanks: tuple[str, ...],
    reason: str,
    by: str,
) -> None:
    """Correct a value of a run, step, flight or rig that was written down wrongly.

    \b
    swathbook amend R1 --set mount_mode=drone --reason "typed from memory, photo says drone"
    swathbook amend F1 --blank base_height --reason "of another day; nobody read it"

    Nothing is erased: the old value stays in the book, struck through. Digests, counts, decisions
    and past audits cannot be amended.
    """  # noqa: D301 - \b keeps the lines apart in the help
    result = amend_record(find_job(ctx), record, settings, reason, by, blanks=blanks)
    show(ctx, result, make_json, make_screen)
