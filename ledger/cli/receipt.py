"""`swathbook receipt`: show that one file is of a sealed deliverable."""

from __future__ import annotations

from pathlib import Path

import click

from ledger.cli.options import find_job, shared_options
from ledger.cli.show import show
from ledger.receipt import make_receipts
from ledger.report.receipt import make_json, make_screen
from ledger.walk import read_dropped_path


@click.command("receipt")
@click.argument("files", nargs=-1, required=True, metavar="FILE…")
@click.option("--to", metavar="FOLDER", help="Where to write; else “receipts” in the job folder.")
@shared_options
@click.pass_context
def command(ctx: click.Context, files: tuple[str, ...], to: str | None) -> None:
    """Write, for each file, a receipt that proves it belongs to a sealed deliverable.

    \b
    swathbook receipt deliver/tile_14.laz

    Whoever holds the file, the receipt and the office's public key can check it without the book:
    the receipt names no other file and no finding.
    """  # noqa: D301 - \b keeps the lines apart in the help
    folder: Path | None = None if to is None else read_dropped_path(to)
    result = make_receipts(find_job(ctx), [read_dropped_path(file) for file in files], folder)
    show(ctx, result, make_json, make_screen)
