"""Options that many commands share, and the job folder they work in."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path
from typing import Any

import click

from ledger.errors import NoBookError, UsageError
from ledger.jobfolder import find_job as find_job_from
from ledger.loading import load_part
from ledger.walk import read_dropped_path

DEFAULT_BY = "technician"
_FOUND = "job folder"


def _keep(name: str) -> Callable[[click.Context, click.Parameter, Any], Any]:
    def callback(ctx: click.Context, _parameter: click.Parameter, value: Any) -> Any:  # noqa: ANN401 - click's own type
        if value is not None and value is not False:
            ctx.ensure_object(dict)[name] = value
        return value

    return callback


def shared_options(function: Callable[..., Any]) -> Callable[..., Any]:
    """Add `--job` and `--json`, which may stand before or after the command's name."""
    function = click.option(
        "--job",
        metavar="FOLDER",
        expose_value=False,
        callback=_keep("job"),
        help="The job folder; else this folder or one above it.",
    )(function)
    return click.option(
        "--json",
        is_flag=True,
        expose_value=False,
        callback=_keep("json"),
        help="Print one JSON object and nothing else.",
    )(function)


def _require_function(_ctx: click.Context, _parameter: click.Parameter, value: str) -> str:
    """Refuse a password that slipped into the function: it would stand in the book for good."""
    if value != DEFAULT_BY:
        load_part("ledger.settings.typedtext", "require_no_secret")(value, "--by")
    return value


by_option = click.option(
    "--by",
    callback=_require_function,
    default=DEFAULT_BY,
    metavar="FUNCTION",
    show_default=True,
    help="Who does this: a function such as “site engineer”, never a name.",
)


def wants_json(ctx: click.Context) -> bool:
    """Say whether one JSON object was asked for."""
    return bool(ctx.ensure_object(dict).get("json"))


def find_job(ctx: click.Context) -> Path:
    """Return the job folder: the one named by `--job`, this one, or the nearest above it.

    Raises:
        UsageError: `--job` names what is not there.
        NoBookError: there is no book there.
    """
    named = ctx.ensure_object(dict).get("job")
    start = Path.cwd() if named is None else read_dropped_path(named)
    if not os.path.exists(start):
        # A mistyped folder must not lead to the book of a folder above it.
        raise UsageError("there is no such job folder", where=str(start), remedy="check --job")
    found = find_job_from(start)
    ctx.ensure_object(dict)[_FOUND] = found
    return found


def get_job_found(ctx: click.Context) -> Path | None:
    """Return the job folder that `find_job` found for this command; None where none was needed."""
    found = ctx.ensure_object(dict).get(_FOUND)
    return found if isinstance(found, Path) else None


def find_job_or_none(ctx: click.Context) -> Path | None:
    """Return the job folder, or None outside a job; a folder that was named must be one."""
    try:
        return find_job(ctx)
    except NoBookError:
        if ctx.ensure_object(dict).get("job") is not None:
            raise
        return None
