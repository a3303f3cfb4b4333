"""Calling what a plugin wrote without letting its mistakes out.

This contains mistakes, not malice: a plugin runs with every right of the person who installed it.
"""

from __future__ import annotations

import contextlib
import sys
from collections.abc import Iterator
from dataclasses import dataclass, replace

from ledger.errors import SwathbookError

_LONGEST = 300


@dataclass
class Attempt:
    """How a guarded call ended.

    Attributes:
        fault: type and message of what was raised; empty when nothing was.
    """

    fault: str = ""


@contextlib.contextmanager
def guarded() -> Iterator[Attempt]:
    """Run a block of plugin code; whatever it raises becomes `fault`, but for Ctrl-C.

    `SystemExit` is caught, and so are panics of compiled libraries, which are no `Exception`.
    """
    attempt = Attempt()
    try:
        yield attempt
    except KeyboardInterrupt:
        raise
    except BaseException as error:  # noqa: BLE001 - a plugin may raise anything
        attempt.fault = describe_exception(error)


@contextlib.contextmanager
def stdout_kept_clean() -> Iterator[None]:
    """Send to stderr whatever plugin code prints: stdout holds the result and nothing else."""
    with contextlib.redirect_stdout(sys.stderr):
        yield


def describe_exception(error: BaseException) -> str:
    """Return type and message in one line, also of an exception whose own text raises."""
    name = type(error).__name__
    try:
        notes = getattr(error, "__notes__", ())
        message = " ".join(" ".join((str(error), *notes)).split())
    except Exception:  # noqa: BLE001 - the text of a foreign exception is foreign code too
        message = "its own message could not be read"
    if len(message) > _LONGEST:
        message = message[:_LONGEST] + "…"
    return f"{name}: {message}" if message else name


def describe_fault(error: SwathbookError) -> str:
    """Return the faults of an error without their place, for a sentence that names it anyway."""
    return "; ".join(replace(each, where="", remedy="").sentence() for each in error.faults)
