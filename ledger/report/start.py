"""What `start` shows."""

from __future__ import annotations

from typing import Annotated, TypedDict

from rich.console import Group, RenderableType

from ledger.model.phrases import count_things
from ledger.model.typed import quote_path
from ledger.report.screen import DOUBT, STRONG, next_step, say, say_lines
from ledger.start import StartResult


class StartJson(TypedDict):
    """What `start --json` prints."""

    schema: Annotated[int, "1"]
    folder: Annotated[str, "the job folder"]
    specification: Annotated[str, "its job.toml"]
    carried: Annotated[list[str], "keys taken over from another job, not confirmed yet"]
    rigs: Annotated[list[str], "ids of the rigs taken over"]
    mapped: Annotated[list[str], "fields of the settings map taken over"]
    flight: Annotated[list[str], "fields that the first flight is asked with, taken over"]


def make_json(result: StartResult) -> StartJson:
    """Return the object that `--json` prints."""
    return {
        "schema": 1,
        "folder": str(result.folder),
        "specification": str(result.specification),
        "carried": list(result.carried),
        "rigs": list(result.rigs),
        "mapped": list(result.mapped),
        "flight": list(result.flight),
    }


def make_screen(result: StartResult) -> RenderableType:
    """Return what a person reads."""
    parts: list[RenderableType] = [
        say(f"The job is ready: {result.folder}", STRONG),
        say_lines(
            (
                "job.toml           what the client asked for; fill it in",
                "swathbook.sqlite   the book; everything is entered here",
                "raw/               put here what comes off card, base and aircraft",
                "out/               let the processing program write here, one folder a run",
            ),
            indent=2,
        ),
    ]
    if result.carried:
        parts.append(
            say(
                f"Taken over from the other job, to be confirmed: {', '.join(result.carried)}.",
                DOUBT,
            )
        )
    if result.rigs:
        parts.append(say(f"Rigs taken over, to be confirmed: {', '.join(result.rigs)}.", DOUBT))
    if result.flight:
        settings = count_things(len(result.flight), "setting")
        parts.append(
            say(
                f"Taken over from its latest flight, to be confirmed: {settings}; record flight "
                "shows them.",
                DOUBT,
            )
        )
    if result.mapped:
        fields = count_things(len(result.mapped), "field")
        parts.append(say(f"Settings map taken over: {fields}, read by record --settings."))
    if result.typed != ".":
        parts.append(next_step(f"cd {quote_path(result.typed)}", "every command is typed there"))
    parts.append(say("Then fill in job.toml and put the raw files into raw/."))
    parts.append(next_step("swathbook register raw --flight F1", "once they are there"))
    return Group(*parts)
