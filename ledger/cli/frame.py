"""From the typed line to an exit status: errors become one line each, never a traceback.

Exit status: 0 as it should be, 1 something is wrong with what was looked at, 2 wrong usage or input
of the command itself, 3 incomplete, 130 interrupted.
"""

from __future__ import annotations

import logging
import os
import sys
from collections.abc import Sequence
from dataclasses import replace

import click

from ledger.cli.group import STATUS_MODULE, LazyGroup, load_command
from ledger.cli.jsontext import print_json
from ledger.errors import Fault, SwathbookError
from ledger.model.filename import escape_for_screen

VERSION = "0.1.0"
EXIT_USAGE = 2
EXIT_INTERRUPTED = 130


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
    ctx.obj = {"job": job, "json": as_json}
    if version:
        python = ".".join(str(part) for part in sys.version_info[:3])
        click.echo(f"swathbook {VERSION} (Python {python})")
        return
    if ctx.invoked_subcommand is None:
        ctx.invoke(load_command(STATUS_MODULE))


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command line and return its exit status.

    Args:
        arguments: words after the program's name; those of this process when left out.
    """
    words = list(sys.argv[1:] if arguments is None else arguments)
    for stream in (sys.stdout, sys.stderr):
        # A console of another code page must get a visible escape, never an error.
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="backslashreplace")
    # Libraries log what they meet in damaged files; what a person has to know, we say ourselves.
    logging.getLogger().addHandler(logging.NullHandler())
    try:
        status = _run(words)
        sys.stdout.flush()
    except BrokenPipeError:
        # The reader went away. Point the stream elsewhere, so that closing it stays quiet.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 1
    return status


def _run(words: list[str]) -> int:
    as_json = "--json" in words
    try:
        result = swathbook.main(words, prog_name="swathbook", standalone_mode=False)
    except SwathbookError as error:
        return _report(error.kind, error.faults, as_json=as_json)
    except click.exceptions.Abort:
        click.echo("swathbook: interrupted; what was entered stays entered", err=True)
        return EXIT_INTERRUPTED
    except KeyboardInterrupt:
        click.echo("swathbook: interrupted; what was entered stays entered", err=True)
        return EXIT_INTERRUPTED
    except click.ClickException as error:
        return _report("usage", (Fault(_one_line(error)),), as_json=as_json)
    except BrokenPipeError:
        raise
    except OSError as error:
        # Whatever the system refuses, and nobody named better further down.
        return _report("file", (_explain(error),), as_json=as_json)
    return result if isinstance(result, int) else 0


def _explain(error: OSError) -> Fault:
    where = escape_for_screen(os.fsdecode(error.filename)) if _has_name(error) else ""
    return Fault("the system refuses", found=error.strerror or str(error), where=where)


def _has_name(error: OSError) -> bool:
    return isinstance(error.filename, str | bytes)


def _one_line(error: click.ClickException) -> str:
    message = " ".join(error.format_message().split()).rstrip(".")
    context = getattr(error, "ctx", None)
    command = context.command_path if context is not None else "swathbook"
    return f"{message[:1].lower()}{message[1:]}; see {command} --help"


def _report(kind: str, faults: tuple[Fault, ...], *, as_json: bool) -> int:
    for fault in faults:
        click.echo(f"swathbook: {_write_line(fault)}", err=True)
    if as_json:
        errors = [
            {
                "kind": kind,
                "what": fault.what,
                "found": fault.found,
                "expected": fault.expected,
                "where": fault.where,
                "line": fault.line,
                "remedy": fault.remedy,
            }
            for fault in faults
        ]
        print_json({"schema": 1, "errors": errors})
    return EXIT_USAGE


def _write_line(fault: Fault) -> str:
    """Return a fault on one line, with whatever a name may hide made visible."""
    sentence = replace(fault, where=escape_for_screen(fault.where)).sentence()
    return escape_for_screen(" ".join(sentence.split()))
