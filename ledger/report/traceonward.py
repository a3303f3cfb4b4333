"""What was made of a file, run, flight or rig, and what became of that."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from rich.console import RenderableType
from rich.text import Text

from ledger.report.screen import BAD, DOUBT, QUIET, STRONG, make_table, say
from ledger.report.tracerows import join_ids
from ledger.report.tracetable import ALL_HINT
from ledger.trace.nodes import ChainNode, TraceResult

_SHOWN = 6
_STYLE = {"rejected": BAD, "superseded": BAD, "undecided": DOUBT}


def make_onward(result: TraceResult, *, everything: bool) -> list[RenderableType]:
    """Return what was made, then the audits that hold it, then what was sent."""
    made = [node for node in result.onward if node.kind not in ("audit", "transmittal")]
    sent = [node for node in result.onward if node.kind == "transmittal"]
    audits = [node for node in result.onward if node.kind == "audit"]
    if not result.onward:
        return [Text(""), say("Nothing that this book knows was made of it.", STRONG)]
    return [
        *_list_made(result, made, everything=everything),
        *_list_audited(audits, made, everything=everything),
        *_list_sent(sent, has_audits=bool(audits)),
    ]


def _list_made(
    result: TraceResult, made: Sequence[ChainNode], *, everything: bool
) -> list[RenderableType]:
    if not made:
        return []
    target = result.chain[0] if result.chain else None
    table = make_table("made of it", "decision", "its files", "of them audited", "it was used")
    shown = made if everything else made[: _SHOWN + (len(made) == _SHOWN + 1)]
    for node in shown:
        values = _read(node)
        decision = str(values.get("decision", ""))
        table.add_row(
            say(f"{node.kind} {node.id}", STRONG),
            say(decision, _STYLE.get(decision, "")),
            say(f"{values.get('files_made', 0)}"),
            say(f"{values.get('files_audited', 0)}"),
            say(_say_sources(node, target.id if target else ""), QUIET),
        )
    parts: list[RenderableType] = [Text(""), table]
    if len(made) > len(shown):
        left = join_ids(node.id for node in made[len(shown) :])
        parts.append(say(f"and {len(made) - len(shown)} more ({left}): {ALL_HINT}"))
    flights = _list_flights_between(target, made)
    if flights:
        told = join_ids(flights)
        parts.append(
            say(
                f"Through {told}: the file was registered with {told}; whether the run read this"
                " very file is not recorded.",
                DOUBT,
            )
        )
    return parts


def _list_flights_between(target: ChainNode | None, made: Sequence[ChainNode]) -> list[str]:
    """Return the flights through which alone a file came into some run."""
    if target is None or target.kind != "file":
        return []
    indirect = [node for node in made if target.id not in node.sources]
    return [name for node in indirect for name in node.sources if name.startswith("F")]


def _say_sources(node: ChainNode, target: str) -> str:
    """Say whether a process used the thing itself, or something between."""
    through = join_ids(source for source in node.sources if source != target)
    if target not in node.sources:
        return f"through {through}"
    return f"itself, and through {through}" if through else "itself"


def _read(node: ChainNode) -> dict[str, Any]:
    return {key.rpartition(".")[2]: known.value for key, known in node.values.items()}


def _list_audited(
    audits: Sequence[ChainNode], made: Sequence[ChainNode], *, everything: bool
) -> list[RenderableType]:
    if not audits:
        what = "Nothing of it" if made else "It"
        return [Text(""), say(f"{what} was ever in a folder that was audited.", DOUBT)]
    table = make_table("audited", "folder", "files of it", "on", "verdict")
    latest = sorted(audits, key=lambda node: node.entry, reverse=True)
    shown = latest if everything else latest[: _SHOWN + (len(latest) == _SHOWN + 1)]
    for node in shown:
        values = _read(node)
        later = values.get("replaced_by")
        again = f"; replaced by {later}" if later else ""
        quick = ", quick" if values.get("quick") else ""
        table.add_row(
            say(node.id, STRONG),
            say(node.name),
            say(str(values.get("files_concerned", 0))),
            say(node.time[:10]),
            say(f"{values.get('verdict', 'none')}{quick}{again}"),
        )
    parts: list[RenderableType] = [Text(""), table]
    if len(latest) > len(shown):
        left = join_ids(node.id for node in latest[len(shown) :])
        parts.append(say(f"and {len(latest) - len(shown)} earlier ({left}): {ALL_HINT}"))
    return parts


def _list_sent(sent: Sequence[ChainNode], *, has_audits: bool) -> list[RenderableType]:
    """Return who was sent it, all of them: whoever has it may have to be told."""
    if not sent:
        return [say("Sent to whom: not recorded.", DOUBT)] if has_audits else []
    table = make_table("sent", "to", "revision", "of", "on", "replaced by")
    for node in sent:
        values = _read(node)
        table.add_row(
            say(node.id, STRONG),
            say(str(values["to"])),
            say(str(values["revision"])),
            say(", ".join(node.sources)),
            say(node.time[:10]),
            say(str(values.get("replaced_by", "")), DOUBT),
        )
    return [Text(""), table]
