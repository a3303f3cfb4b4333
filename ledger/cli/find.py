"""`swathbook find`: search one book, or ask it a saved question."""

from __future__ import annotations

from functools import partial

import click

from ledger.cli.options import find_job, find_job_or_none, shared_options
from ledger.cli.progress import TerminalProgress
from ledger.cli.show import show
from ledger.errors import UsageError
from ledger.find import find_text
from ledger.find.office import find_everywhere, recall
from ledger.find.questions import answer_everywhere, answer_question
from ledger.report import find as report
from ledger.report import findoffice as office_report


@click.command("find")
@click.argument("words", nargs=-1, metavar="[WORD…]")
@click.option("--ask", "number", type=int, metavar="NUMBER", help="Ask a saved question.")
@click.option("--everywhere", is_flag=True, help="In every job that this computer knows.")
@click.option(
    "--recall",
    "calls_back",
    is_flag=True,
    help="Which deliveries and recipients did this reach? It was bad.",
)
@click.option("--all", "whole", is_flag=True, help="Show every record, and all that matched.")
@shared_options
@click.pass_context
def command(  # noqa: PLR0913 - one for each option
    ctx: click.Context,
    words: tuple[str, ...],
    number: int | None,
    *,
    everywhere: bool,
    calls_back: bool,
    whole: bool,
) -> None:
    """Find what a job's book holds: by tile, version, geoid, serial, base mark, function or date.

    \b
    swathbook find tile_14              a tile
    swathbook find demo-proc 4.1.0      every word has to be there
    swathbook find 2026-05-14           a day (UTC)
    swathbook find                      the saved questions
    swathbook find --ask 20             one of them
    swathbook find QM1 --everywhere     in all jobs of this computer
    swathbook find --recall 3f2a90c1    what a bad grid, file or version reached
    """  # noqa: D301 - \b keeps the lines apart in the help
    if words and number is not None:
        raise UsageError("words and --ask exclude each other", found=" ".join(words))
    if calls_back or (everywhere and words):
        _ask_office(ctx, words, everywhere=everywhere, calls_back=calls_back, whole=whole)
    elif number is not None and everywhere:
        result_of_all = answer_everywhere(number, find_job_or_none(ctx))
        show(ctx, result_of_all, office_report.make_answers_json, office_report.make_answers_screen)
    elif number is not None:
        result = answer_question(find_job(ctx), number)
        show(ctx, result, report.make_question_json, report.make_question_screen)
    elif words:
        screen = partial(report.make_screen, whole=whole)
        show(ctx, find_text(find_job(ctx), words), report.make_json, screen)
    else:
        show(ctx, None, report.make_list_json, report.make_list_screen)


def _ask_office(
    ctx: click.Context, words: tuple[str, ...], *, everywhere: bool, calls_back: bool, whole: bool
) -> None:
    """Search or call back in one job or in all, with the bar while books are read."""
    job = find_job_or_none(ctx) if everywhere else find_job(ctx)
    with TerminalProgress() as progress:
        if calls_back:
            reached = recall(words, job, everywhere=everywhere, progress=progress)
        else:
            found = find_everywhere(words, job, progress)
    if calls_back:
        show(ctx, reached, office_report.make_recall_json, office_report.make_recall_screen)
    else:
        screen = partial(office_report.make_screen, whole=whole)
        show(ctx, found, office_report.make_json, screen)
