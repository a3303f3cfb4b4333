"""`swathbook register --from-book`: loaded when it is typed."""

from __future__ import annotations

import click

from ledger.cli.options import find_job
from ledger.cli.progress import TerminalProgress
from ledger.cli.show import show
from ledger.frombook import register_book
from ledger.report.frombook import make_json, make_screen
from ledger.walk import read_dropped_path


def take_book(ctx: click.Context, other: str, by: str) -> None:
    """Take over what another book of the same job holds more."""
    with TerminalProgress() as progress:
        result = register_book(find_job(ctx), read_dropped_path(other), progress, by)
    show(ctx, result, make_json, make_screen)
