"""`swathbook find`: search one book, or ask it a saved question."""

from __future__ import annotations

from functools import partial

import click

from ledger.cli.options import find_job, shared_options
from ledger.cli.show import show
from ledger.errors import UsageError
from ledger.find import find_text
from ledger.find.questions import answer_question
from ledger.report import find as report


@click.command("find")
@click.argument("words", nargs=-1, metavar="[WORD…]")
@click.option("--ask", "number", type=int, metavar="NUMBER", help="Ask a saved question.")
@click.option("--all", "whole", is_flag=True, help="Show every record, and all that matched.")
@shared_options
@click.pass_context
def command(ctx: click.Context, words: tuple[str, ...], number: int | None, *, whole: bool) -> None:
    """Find what a job's book holds: by tile, version, geoid, serial, base mark, function or date.

    \b
    swathbook find tile_14              a tile
    swathbook find demo-proc 4.1.0      every word has to be there
    swathbook find 2026-05-14           a day (UTC)
    swathbook find                      the saved questions
    swathbook find --ask 20             one of them
    """  # noqa: D301 - \b keeps the lines apart in the help
    if words and number is not None:
        raise UsageError("words and --ask exclude each other", found=" ".join(words))
    if number is not None:
        result = answer_question(find_job(ctx), number)
        show(ctx, result, report.make_question_json, report.make_question_screen)
    elif words:
        screen = partial(report.make_screen, whole=whole)
        show(ctx, find_text(find_job(ctx), words), report.make_json, screen)
    else:
        show(ctx, None, report.make_list_json, report.make_list_screen)
