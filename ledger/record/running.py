"""Running a command to its end: no shell, and what stops us stops it.

Light: a command that only shows what it would run loads nothing for it.
"""

from __future__ import annotations

import contextlib
import datetime as dt
import os
import signal
import subprocess
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from ledger.dataclass import dataclass
from ledger.errors import UsageError

_PATIENCE_S = 1.0


@dataclass(frozen=True)
class Ended:
    """A command that ended.

    Args:
        status: exit status; below zero for a signal, on POSIX.
        started: UTC.
        ended: UTC.
        stopped: a person stopped it.
    """

    status: int
    started: str
    ended: str
    stopped: bool


def run_words(
    words: Sequence[str], *, stdout: int | None = None, folder: Path | None = None
) -> Ended:
    """Run a command to its end, without a shell.

    Args:
        words: the command and its arguments.
        stdout: where its output goes; None to the program's own.
        folder: where it is run; None for the working folder.

    Raises:
        UsageError: the system cannot start it.
    """
    started = _now()
    try:
        program = subprocess.Popen(words, stdout=stdout, cwd=folder)  # noqa: S603 - no shell
    except (OSError, ValueError) as error:
        reason = error.strerror if isinstance(error, OSError) else str(error)
        raise UsageError(
            "the command cannot be started",
            found=f"{words[0]}: {reason}",
            remedy="check its name; it is run without a shell",
        ) from error
    stopped = False
    while True:
        try:
            status = program.wait()
            break
        except KeyboardInterrupt:  # a terminal has told the command as well
            stopped = True
            _pass_on(program)
    return Ended(status, started, _now(), stopped)


def _pass_on(program: subprocess.Popen[Any]) -> None:
    """Stop a command that heard nothing of what stopped us."""
    with contextlib.suppress(subprocess.TimeoutExpired, KeyboardInterrupt):
        program.wait(_PATIENCE_S)
    if program.poll() is None and os.name != "nt":
        program.send_signal(signal.SIGINT)


def _now() -> str:
    return f"{dt.datetime.now(dt.UTC):%Y-%m-%dT%H:%M:%SZ}"
