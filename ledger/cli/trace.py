"""`swathbook trace`: "what made this?"."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

import click
from rich.console import RenderableType

from ledger.cli.options import find_job, shared_options
from ledger.cli.show import show
from ledger.loading import load_part
from ledger.model.ask import NoProgress, Progress
from ledger.report.trace import make_screen
from ledger.trace import TraceResult, trace

_SILENT = NoProgress()
# About a second of hashing (no source, by trial).
_WORTH_A_BAR_BYTES = 200_000_000


@click.command("trace")
@click.argument("target", metavar="FILE")
@click.option("--onward", is_flag=True, help="The other way: what was made of it, and audited.")
@click.option("--all", "everything", is_flag=True, help="Every record, value and file in full.")
@shared_options
@click.pass_context
def command(ctx: click.Context, target: str, *, onward: bool, everything: bool) -> None:
    """Tell what made a file, with which settings, from which raw data.

    FILE is a path, also renamed or copied off the job; a digest or its first eight digits; an id
    (R1, F1, G1, D1, entry:31); or the id of a finding. Exit status 1 when the book does not know
    it.
    """

    def make_chosen_screen(result: TraceResult) -> RenderableType:
        return make_screen(result, everything=everything)

    result = trace(find_job(ctx), target, onward=onward, progress=_make_progress(target))
    show(ctx, result, _make_json, make_chosen_screen)
    ctx.exit(0 if result.known else 1)


def _make_json(result: TraceResult) -> Mapping[str, Any]:
    made: Mapping[str, Any] = load_part("ledger.report.trace_json", "make_json")(result)
    return made


def _make_progress(target: str) -> Progress:
    """Return a bar for a file that takes a while to hash; it is not worth its load for others."""
    try:
        is_large = Path(target).stat().st_size > _WORTH_A_BAR_BYTES
    except (OSError, ValueError):  # it may be an id
        is_large = False
    progress: Progress = (
        load_part("ledger.cli.progress", "TerminalProgress")() if is_large else _SILENT
    )
    return progress
