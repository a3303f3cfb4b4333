"""`swathbook record flight`: what happened in the field."""

from __future__ import annotations

import click

from ledger.cli.options import by_option, find_job, shared_options
from ledger.cli.person import make_ask
from ledger.cli.recordcard import CardCommand, card_option
from ledger.cli.recordhelp import form_options, read_answers
from ledger.cli.show import show
from ledger.record.card import CardOptions, record_card
from ledger.report.record import make_json, make_screen


@click.command("flight", cls=CardCommand, kind="flight")
@click.argument("card", default="", metavar="[F1]")
@form_options
@card_option
@by_option
@shared_options
@click.pass_context
def command(  # noqa: PLR0913 - one for each option
    ctx: click.Context,
    *,
    card: str,
    form: str | None,
    settings: tuple[str, ...],
    name: str,
    by: str,
) -> None:
    """Record a flight, the field card: how the scanner was carried, positions, base, times.

    \b
    swathbook record flight          the flight that is still empty, else a new one
    swathbook record flight F1       this one; again to add to it or put it right
    swathbook record flight F1 --set base_height=1,523 --set platform=drone
    swathbook record flight F1 --card flight.html    a page to print, for the field
    swathbook record flight --blank > flight.toml    an empty form to fill in
    swathbook record flight F1 --from flight.toml

    A blank is allowed and its cost is said.
    """  # noqa: D301 - \b keeps the lines apart in the help
    options = CardOptions(id=card, answers=read_answers(form, settings), name=name, by=by)
    show(ctx, record_card(find_job(ctx), "flight", options, make_ask()), make_json, make_screen)
