"""Printing a result: one JSON object where it was asked for, else the screen."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any, TypeVar

import click
from rich.console import RenderableType

from ledger.cli.jsontext import print_json
from ledger.cli.options import get_job_found, wants_json
from ledger.report.screen import QUIET, make_console, say

Result = TypeVar("Result")


def show(
    ctx: click.Context,
    result: Result,
    make_json: Callable[[Result], Mapping[str, Any]],
    make_screen: Callable[[Result], RenderableType],
) -> None:
    """Print a result on stdout.

    Where a screen names a command and the person does not stand in the job folder, it is said where
    that command has to be typed: paths of the book begin there.
    """
    if wants_json(ctx):
        print_json(make_json(result))
        return
    console = make_console()
    console.record = True
    console.print(make_screen(result))
    job = get_job_found(ctx)
    if job is not None and job != Path.cwd() and "swathbook " in console.export_text():
        console.print(say(f"Commands are typed in the job folder, {job}", QUIET))
