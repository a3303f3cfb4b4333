"""What `accept` shows."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Annotated, TypedDict

from rich.console import Group, RenderableType

from ledger.model.acceptance import Acceptance
from ledger.model.audit import AcceptResult, TakenFinding
from ledger.report.audit import VERDICT_STYLE
from ledger.report.screen import DOUBT, STRONG, next_step, say, say_lines


class EarlierJson(TypedDict):
    """Who had taken a finding already."""

    by: Annotated[str, "function of the person"]
    reason: Annotated[str, "why"]
    entry: Annotated[int, "number of that entry"]
    time: Annotated[str, "when it was made, UTC"]


class TakenJson(TypedDict):
    """One finding that somebody takes."""

    finding: Annotated[str, "its id"]
    sentences: Annotated[list[str], "what it says"]
    entry: Annotated[int, "number of the entry that holds the acceptance"]
    new: Annotated[bool, "whether that entry was made now"]
    before: Annotated[EarlierJson | None, "the acceptance that stood before; null for none"]
    audit: Annotated[int, "entry of the audit that found it"]


class StandJson(TypedDict):
    """Where an audit stands with every acceptance so far."""

    entry: Annotated[int, "its entry"]
    folder: Annotated[str, "the audited folder"]
    verdict: Annotated[str, "its verdict"]


class AcceptJson(TypedDict):
    """What `accept --json` prints."""

    schema: Annotated[int, "1"]
    accepted: Annotated[list[TakenJson], "the findings, as they were named"]
    audits: Annotated[list[StandJson], "the audits that found them"]
    open: Annotated[list[str], "ids of their minor findings that nobody has accepted"]


def make_json(result: AcceptResult) -> AcceptJson:
    """Return the object that `--json` prints."""
    return {
        "schema": 1,
        "accepted": [_describe(each) for each in result.taken],
        "audits": [
            {"entry": each.entry, "folder": each.folder, "verdict": str(each.verdict)}
            for each in result.audits
        ],
        "open": list(result.open),
    }


def _describe(taken: TakenFinding) -> TakenJson:
    before = taken.before
    return {
        "finding": taken.finding,
        "sentences": list(taken.sentences),
        "entry": taken.entry,
        "new": taken.is_new,
        "before": {
            "by": before.by,
            "reason": before.reason,
            "entry": before.entry,
            "time": before.time,
        }
        if before
        else None,
        "audit": taken.audit,
    }


def make_screen(result: AcceptResult) -> RenderableType:
    """Return what a person reads."""
    parts: list[RenderableType] = []
    for taken in result.taken:
        parts += _say_taken(taken)
    for stand in result.audits:
        told = f"{stand.folder} is now: {stand.verdict} (the audit of entry {stand.entry})."
        parts.append(say(told, VERDICT_STYLE[stand.verdict]))
    if any(taken.is_new for taken in result.taken):
        parts.append(say("An acceptance lapses when a file or a criterion of it changes."))
    if result.step.command:
        parts.append(next_step(result.step.command, result.step.when))
    return Group(*parts)


def _say_taken(taken: TakenFinding) -> Iterable[RenderableType]:
    if taken.is_new:
        yield say(f"Accepted, as entry {taken.entry}:", STRONG)
        yield say_lines(taken.sentences, indent=2)
        if taken.before is not None:
            told = f"It was accepted before, too: {_say_who(taken.before)}. Both stay in the book."
            yield say_lines([told], DOUBT, indent=2)
    elif taken.before is not None:
        yield say(f"Accepted already: {_say_who(taken.before)}. Nothing was entered.", STRONG)
        yield say_lines(taken.sentences, indent=2)


def _say_who(known: Acceptance) -> str:
    return f"by {known.by} on {known.time[:10]}, entry {known.entry}, “{known.reason}”"
