"""`swathbook record statement`: a number about accuracy that a report states."""

from __future__ import annotations

import click

from ledger.cli.options import by_option, find_job, shared_options
from ledger.cli.person import make_ask
from ledger.cli.recordhelp import RecordCommand, form_options, read_answers
from ledger.cli.show import show
from ledger.record.card import CardOptions, record_card
from ledger.report.record import make_json, make_screen


@click.command("statement", cls=RecordCommand, kind="statement")
@click.argument("card", default="", metavar="[T1]")
@form_options
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
    """Record one number about accuracy that a report states, before it is sent.

    \b
    swathbook record statement       asks
    swathbook record statement T1    again, to add to it or put it right
    swathbook record statement --set about=R2 --set accuracy=vertical --set statistic=RMSE
        --set value="0,023 m" --set count=14 --set checkpoints=control/checks.csv
    swathbook record statement --blank > statement.toml    an empty form to fill in
    swathbook record statement --from statement.toml

    It is kept as it was stated; recording it computes nothing. One number is one statement.
    """  # noqa: D301 - \b keeps the lines apart in the help
    options = CardOptions(id=card, answers=read_answers(form, settings), name=name, by=by)
    result = record_card(find_job(ctx), "statement", options, make_ask())
    show(ctx, result, make_json, make_screen)
