"""`swathbook record rig`: scanner, bracket and aircraft as one unit."""

from __future__ import annotations

import click

from ledger.cli.options import by_option, find_job, shared_options
from ledger.cli.person import make_ask
from ledger.cli.recordcard import CardCommand, card_option
from ledger.cli.recordhelp import form_options, read_answers
from ledger.cli.show import show
from ledger.record.card import CardOptions, record_card
from ledger.report.record import make_json, make_screen


@click.command("rig", cls=CardCommand, kind="rig")
@click.argument("card", default="", metavar="[G1]")
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
    """Record a rig: scanner, bracket and aircraft as one unit, with the measured lever arm.

    \b
    swathbook record rig             asks
    swathbook record rig G1          again: it was altered, or something is put right
    swathbook record rig --card rig.html       a page to print
    swathbook record rig --set scanner_serial=SU-07 --set bracket=B-2
    swathbook record rig --blank > rig.toml    an empty form to fill in
    swathbook record rig --from rig.toml

    Another bracket, unit, calibration or day of measuring begins a new state of the rig; flights
    before it are held against the one before. A blank is allowed and its cost is said.
    """  # noqa: D301 - \b keeps the lines apart in the help
    options = CardOptions(id=card, answers=read_answers(form, settings), name=name, by=by)
    show(ctx, record_card(find_job(ctx), "rig", options, make_ask()), make_json, make_screen)
