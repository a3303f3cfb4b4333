"""`swathbook record step`: what was done to the outputs of a run."""

from __future__ import annotations

from typing import Any

import click

from ledger.cli.options import by_option, shared_options
from ledger.cli.recordhelp import RecordCommand, form_options, process_options
from ledger.cli.recordprocess import enter_process


@click.command("step", cls=RecordCommand, kind="step")
@process_options
@form_options
@by_option
@shared_options
@click.pass_context
def command(ctx: click.Context, /, **typed: Any) -> int:  # noqa: ANN401 - one for each option
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
    return enter_process(ctx, "step", **typed)
