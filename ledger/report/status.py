"""What the bare command shows: where the job stands and what to type next."""

from __future__ import annotations

from typing import Annotated, TypedDict

from rich.console import Group, RenderableType

from ledger.report.copies import CopyJson, describe_copies
from ledger.report.screen import BAD, QUIET, make_table, next_step, say
from ledger.status import StatusLine, StatusResult


class StateJson(TypedDict):
    """One topic."""

    topic: Annotated[str, "what it is about"]
    sentence: Annotated[str, "how it stands"]
    next: Annotated[str, "what to type about it, in the job folder; empty for nothing"]
    when: Annotated[str, "what has to happen before, or what to know about it"]
    alarm: Annotated[bool, "something was found wrong"]


class StatusJson(TypedDict):
    """What `swathbook --json` prints."""

    schema: Annotated[int, "1"]
    job: Annotated[str | None, "the job folder; null outside a job"]
    state: Annotated[list[StateJson], "alarms first, then topic by topic"]
    next: Annotated[str, "what to type next, in the job folder; empty for nothing"]
    unexplained: Annotated[list[str], "every output that no run or step explains"]
    copies: Annotated[list[CopyJson], "places of the raw files"]
    card_may_be_cleared: Annotated[
        bool, "every file has verified copies enough, and none was unreadable"
    ]


def make_json(result: StatusResult) -> StatusJson:
    """Return the object that `--json` prints."""
    copies = result.copies
    return {
        "schema": 1,
        "job": str(result.job) if result.job is not None else None,
        "state": [_describe(line) for line in result.state],
        "next": result.step.command,
        "unexplained": list(result.unexplained),
        "copies": [] if copies is None else describe_copies(copies),
        "card_may_be_cleared": copies is not None and copies.card_may_be_cleared,
    }


def _describe(line: StatusLine) -> StateJson:
    return {
        "topic": line.topic,
        "sentence": line.sentence,
        "next": line.step.command,
        "when": line.step.when,
        "alarm": line.is_alarm,
    }


def make_screen(result: StatusResult) -> RenderableType:
    """Return what a person reads."""
    table = make_table("", "")
    table.show_header = False
    for line in result.state:
        topic, words = (BAD, BAD) if line.is_alarm else (QUIET, "")
        table.add_row(say(line.topic, topic), say(line.sentence, words))
    step = result.step
    return Group(table, next_step(step.command, step.when)) if step.command else table
