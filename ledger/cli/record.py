"""`swathbook record`: a processing run, a flight, a rig, or a decision on a run."""

from __future__ import annotations

from pathlib import Path

import click

from ledger.cli.options import by_option, find_job, shared_options
from ledger.cli.person import make_ask
from ledger.cli.show import show
from ledger.errors import UsageError
from ledger.forms import print_blank
from ledger.loading import load_part
from ledger.record.answers import Answers
from ledger.record.card import CardOptions, record_card
from ledger.record.decision import record_decision
from ledger.record.result import RecordResult
from ledger.report.record import make_json, make_screen
from ledger.walk import read_dropped_path

_CARDS = ("flight", "rig")
_DECISION = "decision"


@click.command("record")
@click.argument("words", nargs=-1, metavar="[flight|rig|decision] [ID | PATH…]")
@click.option("--input", "inputs", multiple=True, metavar="ID|PATH", help="What the run used.")
@click.option("--from", "form", metavar="FORM.toml", help="A filled-in form.")
@click.option("--set", "settings", multiple=True, metavar="KEY=VALUE", help="One answer.")
@click.option("--reason", default="", metavar="TEXT", help="Reason of a decision, in one line.")
@click.option("--name", default="", metavar="TEXT", help="A name for the record.")
@click.option("--together", is_flag=True, help="All named outputs belong to this run.")
@click.option("--blank", is_flag=True, help="Print the empty form and enter nothing.")
@by_option
@shared_options
@click.pass_context
def command(  # noqa: PLR0913 - one for each option
    ctx: click.Context,
    words: tuple[str, ...],
    *,
    inputs: tuple[str, ...],
    form: str | None,
    settings: tuple[str, ...],
    reason: str,
    name: str,
    together: bool,
    blank: bool,
    by: str,
) -> None:
    """Record a processing run: what it made, from what, with which settings.

    \b
    swathbook record                       finds outputs that no run explains, and asks
    swathbook record out/R1 --input F1     these outputs
    swathbook record flight F1             the field card
    swathbook record rig                   scanner, bracket and aircraft as one unit
    swathbook record decision R1 rejected --reason "heights left ellipsoidal"

    Files are read first, only the rest is asked. A blank is allowed and its cost is said.
    """  # noqa: D301 - \b keeps the lines apart in the help
    kind = words[0] if words and words[0] in (*_CARDS, _DECISION) else "run"
    if blank:
        click.echo(print_blank("run" if kind == _DECISION else kind), nl=False)
        return
    answers = Answers(form=read_dropped_path(form) if form is not None else None, settings=settings)
    job = find_job(ctx)
    if kind == "run":
        result: RecordResult = load_part("ledger.cli.recordrun", "enter_run")(
            job, words, answers, inputs=inputs, name=name, together=together, by=by
        )
    elif kind == _DECISION:
        result = _decide(job, words[1:], reason, by)
    else:
        result = _fill_card(job, words, CardOptions(answers=answers, name=name, by=by))
    show(ctx, result, make_json, make_screen)


def _fill_card(job: Path, words: tuple[str, ...], options: CardOptions) -> RecordResult:
    kind, *ids = words
    if len(ids) > 1:
        raise UsageError(f"one {kind} at a time", found=", ".join(ids))
    chosen = CardOptions(
        id=ids[0] if ids else "", answers=options.answers, name=options.name, by=options.by
    )
    return record_card(job, "flight" if kind == "flight" else "rig", chosen, make_ask())


def _decide(job: Path, words: tuple[str, ...], reason: str, by: str) -> RecordResult:
    if len(words) != 2:
        raise UsageError(
            "a decision needs a run and a word",
            found=" ".join(words) or "nothing",
            expected='swathbook record decision R1 rejected --reason "…"',
        )
    run, decision = words
    return record_decision(job, run, decision, reason, by)
