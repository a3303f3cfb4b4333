"""`swathbook seal`: sign the book's state."""

from __future__ import annotations

import os
import sys

import click

from ledger.cli.options import by_option, find_job, shared_options
from ledger.cli.progress import TerminalProgress
from ledger.cli.show import show
from ledger.errors import UsageError
from ledger.report.seal import make_json, make_screen
from ledger.report.timestamp import (
    make_request_json,
    make_request_screen,
    make_stamp_json,
    make_stamp_screen,
)
from ledger.seal import seal_book
from ledger.sealing.keys import Moment
from ledger.timestamp import keep_timestamp, request_timestamp
from ledger.walk import read_dropped_path

PASSPHRASE_VARIABLE = "SWATHBOOK_SEAL_PASSPHRASE"  # noqa: S105 - the name, not the thing


@click.command("seal")
@click.option(
    "--close",
    default="",
    metavar="DAY",
    help="Close the job as well; it is to be kept until this day, as 2036-12-31.",
)
@click.option("--request", metavar="FILE", help="Write a request for a time stamp, RFC 3161.")
@click.option("--timestamp", metavar="FILE", help="Keep the time stamp that came back.")
@click.option(
    "--authority",
    metavar="FILE",
    help="Certificate of whoever gave it, which its signature is held against.",
)
@by_option
@shared_options
@click.pass_context
def command(  # noqa: PLR0913, PLR0917 - one for each option
    ctx: click.Context,
    by: str,
    close: str,
    request: str | None,
    timestamp: str | None,
    authority: str | None,
) -> None:
    """Sign how the book stands, print its root, and leave the seal as a file.

    \b
    swathbook seal
    swathbook seal --close 2036-12-31
    swathbook seal --request seal.tsq
    swathbook seal --timestamp answer.tsr --authority root.pem

    The office's key is made at the first seal and kept in your own folder, outside every job; keep
    a backup of it. Give the seal, or the printed root, to somebody else: only that gives it a date.
    """  # noqa: D301 - \b keeps the lines apart in the help
    _require_one_wish(close, request, timestamp, authority)
    if request is not None:
        wanted = request_timestamp(find_job(ctx), read_dropped_path(request))
        show(ctx, wanted, make_request_json, make_request_screen)
        return
    if timestamp is not None:
        trusted = None if authority is None else read_dropped_path(authority)
        kept = keep_timestamp(find_job(ctx), read_dropped_path(timestamp), trusted, by)
        show(ctx, kept, make_stamp_json, make_stamp_screen)
        return
    with TerminalProgress() as progress:
        result = seal_book(
            find_job(ctx), _ask_passphrase, keep_until=close, by=by, progress=progress
        )
    show(ctx, result, make_json, make_screen)


def _require_one_wish(
    close: str, request: str | None, timestamp: str | None, authority: str | None
) -> None:
    wishes = {"--close": bool(close), "--request": request, "--timestamp": timestamp}
    named = [name for name, wish in wishes.items() if wish not in (None, False)]
    if len(named) > 1:
        raise UsageError("one thing at a time", found=" and ".join(named), expected="one of them")
    if authority is not None and timestamp is None:
        raise UsageError("--authority says who gave a time stamp", expected="--timestamp with it")


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
