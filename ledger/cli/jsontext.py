"""One JSON object on stdout, that any reader of JSON accepts."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Annotated, Any, TypedDict

import click

from ledger.model.filename import escape_undecodable


class VersionJson(TypedDict):
    """What `--version --json` prints."""

    schema: Annotated[int, "1"]
    version: Annotated[str, "of Swathbook"]
    python: Annotated[str, "of Python"]


def print_json(values: Mapping[str, Any]) -> None:
    """Print one JSON object on stdout; names that are no text are written with their bytes."""
    click.echo(json.dumps(_make_text(values), allow_nan=False))


def _make_text(value: Any) -> Any:  # noqa: ANN401 - any JSON value
    # Half of a surrogate pair is no JSON text (RFC 8259 section 8.2), and readers refuse it.
    if isinstance(value, str):
        return escape_undecodable(value)
    if isinstance(value, Mapping):
        return {_make_text(key): _make_text(part) for key, part in value.items()}
    return [_make_text(part) for part in value] if isinstance(value, list | tuple) else value
