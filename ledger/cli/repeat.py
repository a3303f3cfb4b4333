"""`swathbook repeat`: do a run again, and say whether it gives the same."""

from __future__ import annotations

from pathlib import Path

import click

from ledger.cli.options import by_option, find_job, shared_options, wants_json
from ledger.cli.pagefile import require_page, write_page
from ledger.cli.person import make_ask
from ledger.cli.progress import TerminalProgress
from ledger.cli.show import show
from ledger.jobfolder import read_names
from ledger.loading import load_part
from ledger.repeat import RepeatOptions, RepeatResult, repeat
from ledger.report.repeat import make_json, make_screen
from ledger.walk import read_dropped_path

_STDERR = 2


@click.command("repeat")
@click.argument("run", metavar="RUN")
@click.option("--page", metavar="FILE.html", help="Make a page of the settings for a printer, too.")
@click.option("--with", "outputs", metavar="FOLDER", help="Grade new outputs, made by hand.")
@click.option("--run", "is_run", is_flag=True, help="Run the recorded command in a clean folder.")
@click.option("--into", metavar="FOLDER", help="That folder; else one in .swathbook/.")
@click.option("--yes", is_flag=True, help="Run the command without asking.")
@by_option
@shared_options
@click.pass_context
def command(  # noqa: PLR0913, PLR0917 - one for each option
    ctx: click.Context,
    run: str,
    page: str | None,
    outputs: str | None,
    into: str | None,
    by: str,
    *,
    is_run: bool,
    yes: bool,
) -> None:
    """Say whether a run can be done again, with which settings, and whether it gave the same.

    \b
    swathbook repeat R1                    what it needs, and every setting
    swathbook repeat R1 --page r1.html     the same, to be printed and ticked off
    swathbook repeat R1 --with ../again    grades what came of doing it by hand
    swathbook repeat R1 --run              runs the command that was recorded

    Recorded inputs and outputs are never written to. The outcome is entered. Exit status: 1 when it
    is different, or the command failed.
    """  # noqa: D301 - \b keeps the lines apart in the help
    job = find_job(ctx)
    options = RepeatOptions(
        run,
        outputs=None if outputs is None else read_dropped_path(outputs),
        is_run=is_run,
        into=None if into is None else read_dropped_path(into),
        yes=yes,
        # Where JSON was asked for, nothing else may stand on stdout.
        stdout=_STDERR if wants_json(ctx) else None,
        by=by,
    )
    if page is not None:
        require_page(read_dropped_path(page), job)
    with TerminalProgress() as progress:
        result = repeat(job, options, make_ask(), progress)
    if page is not None:
        _write_page(job, result, read_dropped_path(page))
    show(ctx, result, make_json, make_screen)
    ctx.exit(0 if result.holds else 1)


def _write_page(job: Path, result: RepeatResult, path: Path) -> None:
    names = read_names(job) or {}
    make = load_part("ledger.report.settings_page", "make_settings_page")
    text: str = make(result, names.get("reference", "") or job.name)
    write_page(path, text)
