"""`swathbook record step`: what was done to the outputs of a run."""

from __future__ import annotations

import click

from ledger.cli.options import by_option, find_job, shared_options, wants_json
from ledger.cli.recordhelp import (
    RecordCommand,
    form_options,
    process_options,
    read_answers,
    read_command,
)
from ledger.cli.show import show
from ledger.loading import load_part
from ledger.record.result import RecordResult
from ledger.report.record import make_json, make_screen


@click.command("step", cls=RecordCommand, kind="step")
@process_options
@form_options
@by_option
@shared_options
@click.pass_context
def command(  # noqa: PLR0913 - one for each option
    ctx: click.Context,
    *,
    words: tuple[str, ...],
    inputs: tuple[str, ...],
    form: str | None,
    settings: tuple[str, ...],
    name: str,
    reason: str,
    together: bool,
    settings_files: tuple[str, ...],
    map_rows: tuple[str, ...],
    evidence: tuple[str, ...],
    yes: bool,
    by: str,
) -> int:
    """Record a step after processing: cleaning, classifying, tiling, merging, reprojecting.

    \b
    swathbook record step                        finds outputs that nothing explains, and asks
    swathbook record step out/S1 --input R1      these outputs, made from what run R1 made
    swathbook record step out/S1 --input out/R1/tile_03.laz --set kind=cleaning
    swathbook record step --blank > step.toml    an empty form to fill in
    swathbook record step out/S1 --input R1 --from step.toml

    What goes in are outputs of runs or steps; work on raw data is a run: swathbook record.
    Points that went in and came out are counted. A blank is allowed and its cost is said.
    """  # noqa: D301 - \b keeps the lines apart in the help
    result: RecordResult = load_part("ledger.cli.recordrun", "enter_run")(
        find_job(ctx),
        words,
        read_answers(form, settings, reason),
        inputs=inputs,
        name=name,
        together=together,
        settings_files=settings_files,
        map_rows=map_rows,
        evidence=evidence,
        command=read_command(ctx),
        yes=yes,
        quiet=wants_json(ctx),
        by=by,
        kind="step",
    )
    show(ctx, result, make_json, make_screen)
    return 1 if result.exit_status or result.unread else 0
