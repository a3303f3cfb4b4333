"""`swathbook audit`: "may I send this?"."""

from __future__ import annotations

import click
from rich.console import RenderableType

from ledger.audit.running import audit_folder
from ledger.cli.options import by_option, find_job, shared_options, wants_json
from ledger.cli.progress import TerminalProgress
from ledger.cli.show import show
from ledger.cli.streams import own_streams
from ledger.model.audit import AuditOptions, AuditResult, InterimResult
from ledger.model.verdict import EXIT_STATUS
from ledger.report.audit import make_interim_line, make_screen
from ledger.report.audit_json import make_json
from ledger.report.screen import make_console
from ledger.walk import read_dropped_path, read_dropped_place


@click.command("audit")
@click.argument("folder", metavar="FOLDER")
@click.option("--quick", is_flag=True, help="Records and headers only; at best incomplete.")
@click.option(
    "--with-checkpoints",
    "checkpoints",
    metavar="FILE",
    help="A table of checkpoints that came later, read as its own lines or the last record say.",
)
@click.option(
    "--workers",
    type=click.IntRange(min=1),
    metavar="N",
    help="How many processes read points; else what is best here. The result is the same.",
)
@click.option(
    "--cluster",
    metavar="ADDRESS",
    help="Have the workers of a Dask cluster read points (tcp://host:8786).",
)
@click.option(
    "--all",
    "everything",
    is_flag=True,
    help="Show every finding, and what conforms.",
)
@by_option
@shared_options
@click.pass_context
def command(  # noqa: PLR0913 - one for each option
    ctx: click.Context,
    folder: str,
    by: str,
    *,
    quick: bool,
    checkpoints: str | None,
    workers: int | None,
    cluster: str | None,
    everything: bool,
) -> None:
    """Check a folder, or one of a store (s3://BUCKET/FOLDER), against job.toml before it is sent.

    Exit status: 0 fit to send, 1 do not send or send only with acceptance, 3 incomplete.
    """
    later = None if checkpoints is None else read_dropped_path(checkpoints)
    if cluster is not None and not cluster.strip():  # a variable of the shell that is not set
        raise click.UsageError("--cluster names no scheduler, such as tcp://host:8786")
    if cluster and (workers or quick):
        other = "--workers" if workers else "--quick"
        raise click.UsageError(f"--cluster and {other} cannot be given together")
    options = AuditOptions(
        quick=quick, by=by, checkpoints=later, workers=workers, cluster=cluster or ""
    )

    own_streams(ctx)
    console = make_console()  # made now: while plugins are at work, sys.stdout is theirs

    def show_interim(interim: InterimResult) -> None:
        if not wants_json(ctx):
            console.print(make_interim_line(interim))

    def make_chosen_screen(result: AuditResult) -> RenderableType:
        return make_screen(result, everything=everything)

    place = read_dropped_place(folder)
    with TerminalProgress() as progress:
        result = audit_folder(find_job(ctx), place, options, progress, show_interim)
    show(ctx, result, make_json, make_chosen_screen)
    ctx.exit(EXIT_STATUS[result.verdict])
