"""From the typed line to an exit status: errors become one line each, never a traceback.

Exit status: 0 as it should be, 1 something is wrong with what was looked at, 2 wrong usage or input
of the command itself, 3 incomplete, 130 interrupted.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence
from typing import TextIO

import click

from ledger import __version__
from ledger.cli.group import STATUS_MODULE, LazyGroup, load_command
from ledger.cli.signs import make_streams_safe
from ledger.cli.streams import WHOLE_PROCESS, close_streams
from ledger.errors import SwathbookError
from ledger.loading import load_part
from ledger.model.entry import Entry
from ledger.store.entered import note_entries, tell_stored

EXIT_USAGE = 2
EXIT_INTERRUPTED = 130
_NOTHING = "nothing was entered; make room where it is written to"
_AS_BEFORE = "the book holds what was entered before, and nothing half-done"


@click.group(
    cls=LazyGroup,
    invoke_without_command=True,
    context_settings={"max_content_width": 96},
)
@click.option("--job", metavar="FOLDER", help="The job folder; else this folder or one above it.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object and nothing else.")
@click.option("--version", is_flag=True, help="Print the version.")
@click.pass_context
def swathbook(ctx: click.Context, job: str | None, *, as_json: bool, version: bool) -> None:
    """Keep the field book of a drone lidar job and audit what is sent.

    Typed alone, it says where the job stands and what to type next.
    """
    ctx.obj = {**(ctx.obj or {}), "job": job, "json": as_json}
    if version:
        python = ".".join(str(part) for part in sys.version_info[:3])
        if as_json:
            load_part("ledger.cli.jsontext", "print_json")(
                {"schema": 1, "version": __version__, "python": python}
            )
        else:
            click.echo(f"swathbook {__version__} (Python {python})")
        return
    if ctx.invoked_subcommand is None:
        ctx.invoke(load_command(STATUS_MODULE))


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command line and return its exit status.

    Args:
        arguments: words after the program's name; those of this process when left out.
    """
    is_whole = arguments is None
    # The library of models asks every installed distribution for extensions of itself, and one
    # that is damaged would end every command.
    os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "__all__")
    words = list(sys.argv[1:] if arguments is None else arguments)
    make_streams_safe()
    with note_entries() as stored:
        try:
            status = _run(words, {WHOLE_PROCESS: is_whole}, stored)
            if sys.stdout is not None:
                sys.stdout.flush()
        except BrokenPipeError:  # the reader went away
            _lead_nowhere(sys.stdout)
            return 1
        except OSError as error:
            return _say_unprinted(error, stored)
    if is_whole:
        close_streams()
    return status


def _say_unprinted(error: OSError, stored: Sequence[Entry]) -> int:
    """Say that the answer of a command could not be printed: stdout leads to a full disk.

    What it entered is entered; only its words are lost.
    """
    _lead_nowhere(sys.stdout)
    reason = error.strerror or str(error)
    told = tell_stored(stored) or _NOTHING
    try:
        sys.stderr.write(f"swathbook: the answer cannot be printed: found {reason}; {told}\n")
        sys.stderr.flush()
    except OSError:
        _lead_nowhere(sys.stderr)
    return EXIT_USAGE


def _lead_nowhere(stream: TextIO) -> None:
    """Point a stream elsewhere, so that closing it stays quiet."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), stream.fileno())


def _run(words: list[str], given: dict[str, object], stored: Sequence[Entry]) -> int:
    try:
        result = swathbook.main(words, prog_name="swathbook", standalone_mode=False, obj=given)
    except (click.exceptions.Abort, KeyboardInterrupt) as stop:
        # The library hides the interruption, which may say what was kept, behind its own.
        kept = str(stop.__cause__ or stop)
        load_part("ledger.cli.refusal", "tell_interrupted")(
            f"interrupted; {kept or _AS_BEFORE}", stored, as_json="--json" in words
        )
        return EXIT_INTERRUPTED
    except BrokenPipeError:
        raise
    except (SwathbookError, click.ClickException, OSError) as error:
        # An OSError is whatever the system refuses, and nobody named better further down.
        load_part("ledger.cli.refusal", "tell")(error, stored, as_json="--json" in words)
        return EXIT_USAGE
    return result if isinstance(result, int) else 0
