"""What the bare command shows: where the job stands and what to type next."""

from __future__ import annotations

from typing import Annotated, TypedDict

from rich.console import Group, RenderableType

from ledger.report.screen import QUIET, make_table, next_step, say
from ledger.status import StatusLine, StatusResult


class StateJson(TypedDict):
    """One topic."""

    topic: Annotated[str, "what it is about"]
    sentence: Annotated[str, "how it stands"]
    next: Annotated[str, "what to type next; empty for nothing"]


class StatusJson(TypedDict):
    """What `swathbook --json` prints."""

    schema: Annotated[int, "1"]
    job: Annotated[str | None, "the job folder; null outside a job"]
    state: Annotated[list[StateJson], "topic by topic"]


def make_json(result: StatusResult) -> StatusJson:
    """Return the object that `--json` prints."""
    return {
        "schema": 1,
        "job": str(result.job) if result.job is not None else None,
        "state": [_describe(line) for line in result.state],
    }


def _describe(line: StatusLine) -> StateJson:
    return {"topic": line.topic, "sentence": line.sentence, "next": line.next}


def make_screen(result: StatusResult) -> RenderableType:
    """Return what a person reads."""
    table = make_table("", "")
    table.show_header = False
    table.columns[0].style = QUIET
    for line in result.state:
        table.add_row(say(line.topic), say(line.sentence))
    return Group(table, next_step(result.next)) if result.next else table
