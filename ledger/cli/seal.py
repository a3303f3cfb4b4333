"""`swathbook seal`: sign the book's state."""

from __future__ import annotations

import os
import sys

import click

from ledger.cli.options import by_option, find_job, shared_options
from ledger.cli.progress import TerminalProgress
from ledger.cli.show import show
from ledger.report.seal import make_json, make_screen
from ledger.seal import seal_book
from ledger.sealing.keys import Moment

PASSPHRASE_VARIABLE = "SWATHBOOK_SEAL_PASSPHRASE"  # noqa: S105 - the name, not the thing


@click.command("seal")
@click.option(
    "--close",
    default="",
    metavar="DAY",
    help="Close the job as well; it is to be kept until this day, as 2036-12-31.",
)
@by_option
@shared_options
@click.pass_context
def command(ctx: click.Context, by: str, close: str) -> None:
    """Sign how the book stands, print its root, and leave the seal as a file.

    \b
    swathbook seal
    swathbook seal --close 2036-12-31

    The office's key is made at the first seal and kept in your own folder, outside every job; keep
    a backup of it. Give the seal, or the printed root, to somebody else: only that gives it a date.
    """  # noqa: D301 - \b keeps the lines apart in the help
    with TerminalProgress() as progress:
        result = seal_book(
            find_job(ctx), _ask_passphrase, keep_until=close, by=by, progress=progress
        )
    show(ctx, result, make_json, make_screen)


def _ask_passphrase(moment: Moment) -> str:
    """Return the passphrase: from the environment, else typed; empty without a terminal."""
    named = os.environ.get(PASSPHRASE_VARIABLE)
    if named is not None or not sys.stdin.isatty():
        return named or ""
    text = "Passphrase of the office's key"
    if moment == "use":
        return str(click.prompt(text, hide_input=True, err=True))
    click.echo("The office has no key yet; one is made now.", err=True)
    return str(
        click.prompt(
            f"{text} (Enter for none)",
            default="",
            show_default=False,
            hide_input=True,
            confirmation_prompt=True,
            err=True,
        )
    )
