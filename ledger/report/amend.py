"""What `amend` shows: the old value struck through, the right one beside it."""

from __future__ import annotations

from typing import Annotated, TypedDict

from rich.console import Group, RenderableType

from ledger.amend import Amended, AmendResult
from ledger.model.typed import quote_path
from ledger.report.jsonvalues import ValueJson, describe_known
from ledger.report.screen import DOUBT, STRONG, next_step, say, say_lines
from ledger.report.values import label_field, tell_how, write_value


class AmendedJson(TypedDict):
    """One value that was struck through."""

    field: Annotated[str, "key of the record field"]
    before: Annotated[ValueJson | None, "what stood there; null where it was blank"]
    after: Annotated[ValueJson | None, "what stands there now; null where it was left blank"]


class AmendJson(TypedDict):
    """What `amend --json` prints."""

    schema: Annotated[int, "1"]
    entry: Annotated[int, "number of the entry made"]
    id: Annotated[str, "the record: R1, S1, F1 or G1"]
    kind: Annotated[str, "run, step, flight or rig"]
    values: Annotated[list[AmendedJson], "the values, in the order given"]
    reason: Annotated[str, "why"]
    audits: Annotated[list[str], "folders whose latest audit was made before"]


def make_json(result: AmendResult) -> AmendJson:
    """Return the object that `--json` prints."""
    return {
        "schema": 1,
        "entry": result.entry,
        "id": result.id,
        "kind": result.kind,
        "values": [
            {
                "field": each.field,
                "before": None if each.before is None else describe_known(each.field, each.before),
                "after": None if each.after is None else describe_known(each.field, each.after),
            }
            for each in result.values
        ],
        "reason": result.reason,
        "audits": list(result.audits),
    }


def make_screen(result: AmendResult) -> RenderableType:
    """Return what a person reads."""
    parts: list[RenderableType] = [
        say(f"Amended {result.kind} {result.id}, as entry {result.entry}.", STRONG),
        say_lines(map(_tell, result.values), indent=2),
        say(f"Reason: {result.reason}"),
        say("What stood there stays in the book, struck through."),
    ]
    if result.audits:
        folders = ", ".join(result.audits)
        parts.append(say(f"Audited before this, and no longer valid: {folders}.", DOUBT))
        parts.append(next_step(f"swathbook audit {quote_path(result.audits[0])}"))
    return Group(*parts)


def _tell(each: Amended) -> str:
    was = "not recorded"
    if each.before is not None:
        was = f"{write_value(each.before)} ({tell_how(each.before)})"
    now = "blank" if each.after is None else write_value(each.after)
    return f"{label_field(each.field)}: {now}   was: {was}"
