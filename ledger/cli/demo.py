"""`swathbook demo`: the whole job on a made-up site, each command run as it would be typed."""

from __future__ import annotations

import contextlib
import io
import time
from pathlib import Path

import click

from ledger.cli.frame import main
from ledger.cli.options import shared_options, wants_json
from ledger.cli.progress import TerminalProgress
from ledger.cli.show import show
from ledger.cli.streams import own_streams
from ledger.demo.script import (
    JOB_NAME,
    Step,
    list_steps,
    prepare_folder,
)
from ledger.model.typed import quote_word
from ledger.report.demo import DemoResult, WalkedStep, make_end, make_json, make_step
from ledger.report.screen import make_console
from ledger.walk import read_dropped_path

DEFAULT_FOLDER = "swathbook-demo"


@click.command("demo")
@click.argument("folder", default=DEFAULT_FOLDER, metavar="[FOLDER]")
@shared_options
@click.pass_context
def command(ctx: click.Context, folder: str) -> None:
    """Walk start, register, record, audit, trace and recheck on invented data.

    Exit status 0 when every step ended as it should; its first audit ends with 1, as it should.
    """
    begun = time.monotonic()
    own_streams(ctx)
    place = read_dropped_path(folder).absolute()
    prepare_folder(place)
    console = make_console()
    walked = []
    with TerminalProgress() as progress:
        for number, step in enumerate(list_steps(place, progress), start=1):
            walked.append(_walk(number, step, place))
            if not wants_json(ctx):
                console.print(make_step(walked[-1]))
    result = DemoResult(
        folder=place,
        job=place / JOB_NAME,
        steps=tuple(walked),
        seconds=time.monotonic() - begun,
    )
    show(ctx, result, make_json, make_end)
    ctx.exit(0 if result.is_right else 1)


def _walk(number: int, step: Step, place: Path) -> WalkedStep:
    if step.act is not None:
        step.act()
    job = place / JOB_NAME
    output = io.StringIO()
    status = 0
    words = step.words if step.find_words is None else step.find_words()
    if words:
        # The first command makes the job folder; every later one is typed in it.
        where = job if job.is_dir() else place
        with (
            contextlib.chdir(where),
            contextlib.redirect_stdout(output),
            contextlib.redirect_stderr(output),
        ):
            status = main(list(words))
    return WalkedStep(
        number=number,
        note=step.note,
        command=" ".join(["swathbook", *map(quote_word, words)]) if words else "",
        expected=step.expected,
        status=status,
        output=output.getvalue(),
    )
