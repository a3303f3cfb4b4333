"""`swathbook recheck`: has anything changed since it was entered?"""

from __future__ import annotations

from pathlib import Path

import click

from ledger.cli.options import by_option, find_job, shared_options
from ledger.cli.progress import TerminalProgress
from ledger.cli.show import show
from ledger.loading import load_part
from ledger.model.artefact import FingerprintValue
from ledger.recheck import RecheckResult, recheck
from ledger.report.recheck import make_screen
from ledger.report.recheck_json import make_json
from ledger.walk import read_dropped_path


@click.command("recheck")
@click.argument("paths", nargs=-1, metavar="[PATH]…")
@click.option("--book-only", is_flag=True, help="The book alone, no files.")
@click.option("--all", "all_files", is_flag=True, help="List every file, not only the wrong ones.")
@click.option(
    "--against",
    multiple=True,
    metavar="SEAL",
    help="Hold the book against a seal: its file, or the root as printed, in quotes.",
)
@click.option(
    "--key",
    "keys",
    multiple=True,
    metavar="KEY",
    help="Public key to check the seal with: the line, or the file that holds it.",
)
@by_option
@shared_options
@click.pass_context
def command(  # noqa: PLR0913 - one for each option
    ctx: click.Context,
    paths: tuple[str, ...],
    by: str,
    *,
    book_only: bool,
    all_files: bool,
    against: tuple[str, ...],
    keys: tuple[str, ...],
) -> None:
    """Prove the book, hash every recorded file again, and say what is no longer as recorded.

    \b
    swathbook recheck --book-only --against seals/seal-000031.txt
    swathbook recheck --book-only --against "1f0c 22d1 …"

    Exit status: 0 all as recorded, 1 changed, missing, broken or not as sealed, 3 a drive is not
    connected.
    """  # noqa: D301 - \b keeps the lines apart in the help
    with TerminalProgress() as progress:
        result = recheck(
            find_job(ctx),
            [read_dropped_path(path) for path in paths],
            book_only=book_only,
            all_files=all_files,
            against=against,
            keys=keys,
            read_fingerprint=_read_fingerprint,
            progress=progress,
            by=by,
        )
    show(ctx, result, make_json, make_screen)
    ctx.exit(_choose_status(result))


def _read_fingerprint(path: Path) -> FingerprintValue | None:
    # Points are read only when a point file changed: only then is their reader worth its load.
    value: FingerprintValue | None = load_part("ledger.rereading", "read_fingerprint")(path)
    return value


def _choose_status(result: RecheckResult) -> int:
    if result.state_ok:
        return 0
    return 3 if result.is_incomplete else 1
