"""What `accept` shows."""

from __future__ import annotations

from typing import Annotated, TypedDict

from rich.console import Group, RenderableType

from ledger.model.audit import AcceptResult
from ledger.report.audit import VERDICT_STYLE
from ledger.report.screen import STRONG, next_step, say, say_lines


class AcceptJson(TypedDict):
    """What `accept --json` prints."""

    schema: Annotated[int, "1"]
    entry: Annotated[int, "number of the entry made"]
    finding: Annotated[str, "id of the finding"]
    sentences: Annotated[list[str], "what was accepted"]
    audit: Annotated[int, "entry of the audit that found it"]
    verdict: Annotated[str, "verdict of that audit with every acceptance so far"]
    open: Annotated[list[str], "ids of its minor findings that nobody has accepted"]


def make_json(result: AcceptResult) -> AcceptJson:
    """Return the object that `--json` prints."""
    return {
        "schema": 1,
        "entry": result.entry,
        "finding": result.finding,
        "sentences": list(result.sentences),
        "audit": result.audit,
        "verdict": str(result.verdict),
        "open": list(result.open),
    }


def make_screen(result: AcceptResult) -> RenderableType:
    """Return what a person reads."""
    verdict = str(result.verdict)
    parts: list[RenderableType] = [
        say(f"Accepted, as entry {result.entry}:", STRONG),
        say_lines(result.sentences, indent=2),
        say(
            f"{result.folder} is now: {verdict} (the audit of entry {result.audit}).",
            VERDICT_STYLE[result.verdict],
        ),
        say("The acceptance lapses when a file or a criterion of it changes."),
    ]
    if result.step.command:
        parts.append(next_step(result.step.command, result.step.when))
    return Group(*parts)
