"""`swathbook repeat`: do a run again, and say whether it gives the same."""

from __future__ import annotations

import os
from pathlib import Path

import click

from ledger.cli.options import by_option, find_job, shared_options, wants_json
from ledger.cli.person import make_ask
from ledger.cli.progress import TerminalProgress
from ledger.cli.show import show
from ledger.errors import UnwritableFileError, UsageError
from ledger.jobfolder import find_places, read_names
from ledger.loading import load_part
from ledger.repeat import RepeatOptions, RepeatResult, repeat
from ledger.report.repeat import make_json, make_screen
from ledger.walk import read_dropped_path

_STDERR = 2
_SUFFIXES = (".html", ".htm")


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
        _require_page(job, read_dropped_path(page))
    with TerminalProgress() as progress:
        result = repeat(job, options, make_ask(), progress)
    if page is not None:
        _write_page(job, result, read_dropped_path(page))
    show(ctx, result, make_json, make_screen)
    ctx.exit(0 if result.holds else 1)


def _require_page(job: Path, path: Path) -> None:
    """Refuse a place where no page may lie.

    Raises:
        UsageError: it is named as no page, something lies there, or it is among the raw data.
    """
    if path.suffix.lower() not in _SUFFIXES:
        raise UsageError(
            "the settings are a page for a browser",
            found=path.name,
            expected="a name that ends in .html",
            remedy=f"name it {path.name}.html",
        )
    whole = Path(os.path.abspath(path))  # noqa: PTH100 - without `..`; links stay links
    if whole.is_relative_to(find_places(job).raw):
        raise UsageError(
            "nothing is written among the raw data", where=str(path), remedy="name another folder"
        )
    if os.path.lexists(path):
        raise UsageError(
            "a file lies there already, and is not written over",
            where=str(path),
            remedy="name another one",
        )


def _write_page(job: Path, result: RepeatResult, path: Path) -> None:
    names = read_names(job) or {}
    make = load_part("ledger.report.settings_page", "make_settings_page")
    text: str = make(result, names.get("reference", "") or job.name)
    try:
        with path.open("x", encoding="utf-8", newline="\n") as stream:
            stream.write(text)
    except OSError as error:
        raise UnwritableFileError(
            f"the page was not written: {error.strerror or error}",
            where=str(path),
            remedy="name a folder that is there and takes files",
        ) from error
