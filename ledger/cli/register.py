"""`swathbook register`: "these are my raw files"."""

from __future__ import annotations

import click

from ledger.cli.options import by_option, find_job, shared_options
from ledger.cli.progress import TerminalProgress
from ledger.cli.show import show
from ledger.errors import UsageError
from ledger.loading import load_part
from ledger.model.artefact import Role
from ledger.register import RegisterOptions, register_paths
from ledger.report.register import make_json, make_screen
from ledger.walk import read_dropped_path


@click.command("register")
@click.argument("paths", nargs=-1, metavar="PATH…")
@click.option(
    "--as",
    "role",
    type=click.Choice([str(role) for role in Role]),
    help="What all these files are; guessed from their content when left out.",
)
@click.option("--flight", default="", metavar="ID", help="Flight that they belong to (F1 …).")
@click.option(
    "--copy-to",
    "drives",
    multiple=True,
    metavar="FOLDER",
    help="Copy them to this drive as well and read them back; once for each drive.",
)
@click.option(
    "--from-book",
    "other",
    metavar="FOLDER",
    help="Take over what another computer entered in its copy of this job's book.",
)
@by_option
@shared_options
@click.pass_context
def command(  # noqa: PLR0913 - one for each option
    ctx: click.Context,
    paths: tuple[str, ...],
    *,
    role: str | None,
    flight: str,
    drives: tuple[str, ...],
    other: str | None,
    by: str,
) -> None:
    """Enter raw files and folders: hash them, read what they say of themselves.

    \b
    swathbook register raw --flight F1     what lies in the job's own folder
    swathbook register E:/ --flight F1 --copy-to . --copy-to F:/
                                           a card, copied to the job and to a drive

    Nothing is written beside them. After an interruption the same command goes on where it stopped.
    What cannot be read is left out by name, with exit status 1.
    A copy counts once it was read back from its drive; two of them, and the card may be cleared.
    """  # noqa: D301 - \b keeps the lines apart in the help
    if other is not None and not (paths or role or flight or drives):
        load_part("ledger.cli.frombook", "take_book")(ctx, other, by)
        return
    if not paths or other is not None:
        raise UsageError(
            "either files or another book are registered, one at a time",
            found="both" if paths else "neither",
            remedy="name the raw files or their folder; see swathbook register --help",
        )
    options = RegisterOptions(
        role=Role(role) if role else None,
        flight=flight,
        by=by,
        copy_to=tuple(read_dropped_path(drive) for drive in drives),
    )
    with TerminalProgress() as progress:
        result = register_paths(
            find_job(ctx), [read_dropped_path(p) for p in paths], options, progress
        )
    show(ctx, result, make_json, make_screen)
    if not result.is_complete:
        ctx.exit(1)
