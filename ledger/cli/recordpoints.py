"""`swathbook record points`: a table of surveyed points, control or checkpoints."""

from __future__ import annotations

import click

from ledger.cli.options import by_option, find_job, shared_options
from ledger.cli.person import make_ask
from ledger.cli.progress import TerminalProgress
from ledger.cli.recordhelp import RecordCommand, form_options, read_answers
from ledger.cli.show import show
from ledger.record.card import CardOptions
from ledger.record.points import record_points
from ledger.report.record import make_json, make_screen


@click.command("points", cls=RecordCommand, kind="points")
@click.argument("table", default="", metavar="[FILE|P1]")
@form_options
@by_option
@shared_options
@click.pass_context
def command(  # noqa: PLR0913 - one for each option
    ctx: click.Context,
    *,
    table: str,
    form: str | None,
    settings: tuple[str, ...],
    name: str,
    by: str,
) -> None:
    """Record a table of surveyed points: which column is what, and what its numbers are.

    \b
    swathbook record points control/checks.csv    reads, then asks the rest
    swathbook record points P1                    again, to add to it or put it right
    swathbook record points control/checks.csv --set role=checkpoints
        --set horizontal=EPSG:6346 --set vertical=orthometric --set unit_vertical=metre
    swathbook record points control/checks.csv --set column_east="column 3"
    swathbook record points --blank > points.toml    an empty form to fill in
    swathbook record points control/checks.csv --from points.toml

    CSV, TSV, blanks, decimal commas, GeoJSON. Names of columns and comment lines such as
    "# heights: orthometric, GEOID18; unit: metre" are read; what was said of the last table with
    the same columns is carried; a number with marks between its thousands is refused.
    """  # noqa: D301 - \b keeps the lines apart in the help
    options = CardOptions(answers=read_answers(form, settings), name=name, by=by)
    ask = make_ask()
    with TerminalProgress() as progress:
        result = record_points(find_job(ctx), table, options, ask, progress)
    show(ctx, result, make_json, make_screen)
