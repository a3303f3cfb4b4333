"""Printing a result: one JSON object where it was asked for, else the screen."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, TypeVar

import click
from rich.console import RenderableType

from ledger.cli.jsontext import print_json
from ledger.cli.options import wants_json
from ledger.report.screen import make_console

Result = TypeVar("Result")


def show(
    ctx: click.Context,
    result: Result,
    make_json: Callable[[Result], Mapping[str, Any]],
    make_screen: Callable[[Result], RenderableType],
) -> None:
    """Print a result on stdout."""
    if wants_json(ctx):
        print_json(make_json(result))
    else:
        make_console().print(make_screen(result))
