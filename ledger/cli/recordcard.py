"""`--card` of `swathbook record flight` and `record rig`: a page for the field, to be printed."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from ledger.cli.jsontext import print_json
from ledger.cli.options import find_job_or_none, wants_json
from ledger.cli.pagefile import require_page, write_page
from ledger.cli.recordhelp import RecordCommand
from ledger.jobfolder import read_names
from ledger.loading import load_part
from ledger.model.filename import escape_for_screen
from ledger.model.ids import write_id
from ledger.walk import read_dropped_path

_FILE = f"{__name__}.file"


class CardCommand(RecordCommand):
    """A command that records a card, or makes the page of an empty one."""

    def invoke(self, ctx: click.Context) -> Any:  # noqa: ANN401 - click's own
        """Make the page where that was asked for, else carry the command out."""
        named = ctx.meta.get(_FILE)
        if named is None:
            return super().invoke(ctx)
        path = read_dropped_path(named)
        card = write_id(str(ctx.params.get("card", "")))
        _write_page(ctx, self.kind, card, path)
        if wants_json(ctx):
            print_json({"schema": 1, "kind": self.kind, "id": card, "file": path.as_posix()})
        else:
            where = escape_for_screen(str(path))
            click.echo(f"The {self.kind} card lies in {where}: open it in a browser and print it.")
        return None


def _note_file(ctx: click.Context, _parameter: click.Parameter, value: str | None) -> None:
    ctx.meta[_FILE] = value


card_option = click.option(
    "--card",
    "page",
    metavar="FILE.html",
    expose_value=False,
    callback=_note_file,
    help="Make a page for a printer, with the same fields, and enter nothing.",
)


def _write_page(ctx: click.Context, kind: str, card: str, path: Path) -> None:
    """Write the page of an empty card; nothing is written over.

    Raises:
        UsageError: another file lies there, raw or delivered data, or it is named as no page.
        UnwritableFileError: the system refuses to write it.
    """
    job = find_job_or_none(ctx)
    require_page(path, job)
    make = load_part("ledger.report.card_page", "make_card_page")
    text: str = make(kind, _find_reference(job), card)
    write_page(path, text)


def _find_reference(job: Path | None) -> str:
    """Return what the job is called; empty outside a job: a card can be printed for any."""
    if job is None:
        return ""
    return (read_names(job) or {}).get("reference", "") or job.name
