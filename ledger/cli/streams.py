"""Our own way to stdout and stderr, past whatever else in this process writes there.

A plugin may start a program, or a library of its own may print: that goes to the streams by number,
which nothing in Python can catch. So from the first plugin on the numbers 1 and 2 lead nowhere, and
what we print goes through copies of them.
"""

from __future__ import annotations

import io
import os
import sys
from contextlib import suppress
from typing import TextIO

import click

from ledger.cli.signs import make_streams_safe

WHOLE_PROCESS = "whole process"
"""Key of the context: the command has the process to itself, as one that was typed."""


def own_streams(ctx: click.Context) -> None:
    """Let nobody but us reach stdout and stderr from now on, where the process is ours.

    A console of Windows is left as it is: programs of that system ask for it by its number.
    """
    if not ctx.ensure_object(dict).get(WHOLE_PROCESS):
        return
    sys.stdout = _take(sys.stdout)
    sys.stderr = _take(sys.stderr)
    make_streams_safe()


def close_streams() -> None:
    """Print nothing any more: what plugins left to the end of the process is no result."""
    ours = sys.stdout, sys.stderr
    sys.stdout = sys.stderr = io.TextIOWrapper(io.BytesIO(), "utf-8")
    for stream in ours:
        if stream is not None and stream not in (sys.__stdout__, sys.__stderr__):
            with suppress(OSError):
                stream.close()


def _take(stream: TextIO) -> TextIO:
    """Return a copy of a stream under another number, and let its own number lead nowhere."""
    if stream is None or (os.name == "nt" and stream.isatty()):
        return stream
    stream.flush()
    number = stream.fileno()
    copy = os.fdopen(os.dup(number), "w", encoding=stream.encoding)
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, number)
    os.close(nowhere)
    return copy
