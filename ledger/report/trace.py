"""What `trace` shows: a tree from the file down to the capture.

What was not recorded is printed as *not recorded*, never left out.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any, TypedDict

from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text
from rich.tree import Tree

from ledger.model.filename import escape_for_screen
from ledger.model.known import KnownValue
from ledger.model.lineage import CustodyState
from ledger.report.screen import (
    BAD,
    DOUBT,
    GOOD,
    QUIET,
    STRONG,
    count_things,
    format_digest,
    next_step,
    say,
    say_lines,
    say_sentence,
    title,
)
from ledger.report.values import label_field, tell_how, write_value
from ledger.trace.nodes import ChainNode, TraceResult

_STATE_STYLE = {
    CustodyState.ACCEPTED: GOOD,
    CustodyState.UNDECIDED: DOUBT,
    CustodyState.STALE: BAD,
    CustodyState.ORPHAN: DOUBT,
}
_FILES_SHOWN = 4


class ValueJson(TypedDict):
    """One recorded value."""

    value: Annotated[Any, "text, whole number, yes or no, or a list of texts"]
    unit: Annotated[str, "unit of a measured number"]
    known_by: Annotated[str, "read, measured, typed, carried or assumed"]
    confirmed: Annotated[bool, "a person looked at it in this record"]


class ChainNodeJson(TypedDict):
    """One thing in the chain."""

    kind: Annotated[str, "file, audit, run, step, flight, rig, or the kind of an entry"]
    id: Annotated[str, "R1, F1, D1; first digits of a file's digest; number of an entry"]
    name: Annotated[str, "its name; for a file its path"]
    entry: Annotated[int, "entry that holds it; 0 for none"]
    by: Annotated[str, "function of the person who entered it"]
    time: Annotated[str, "when it was entered, UTC"]
    sources: Annotated[list[str], "ids of what it comes from"]
    values: Annotated[dict[str, ValueJson], "what is recorded of it, by field key"]
    not_recorded: Annotated[list[str], "keys of core fields without a value"]


class CopyPlaceJson(TypedDict):
    """Another place of a raw file."""

    path: Annotated[str, "the place"]
    of: Annotated[str, "path of the file in the chain"]
    sha256: Annotated[str, "digest of the file"]
    volume: Annotated[str, "id of the volume; empty where it was not noted"]


class TraceJson(TypedDict):
    """What `trace --json` prints."""

    schema: Annotated[int, "1"]
    path: Annotated[str, "the path that was read or recorded; empty for none"]
    sha256: Annotated[str, "digest of the file; empty when the target is no file"]
    known: Annotated[bool, "whether the book knows it"]
    matched_by: Annotated[str, "digest, fingerprint, recorded path, id, or nothing"]
    sentence: Annotated[str, "the answer in one sentence"]
    chain: Annotated[list[ChainNodeJson], "from the target back to the capture"]
    onward: Annotated[list[ChainNodeJson], "what was made of it, with --onward"]
    not_recorded: Annotated[list[str], "keys that no record has a value for"]
    copies: Annotated[list[CopyPlaceJson], "other places where the raw files were seen"]


def make_json(result: TraceResult) -> TraceJson:
    """Return the object that `--json` prints."""
    return {
        "schema": 1,
        "path": result.path,
        "sha256": result.sha256,
        "known": result.known,
        "matched_by": result.matched_by,
        "sentence": result.sentence,
        "chain": [_describe(node) for node in result.chain],
        "onward": [_describe(node) for node in result.onward],
        "not_recorded": list(result.not_recorded),
        "copies": [
            {"path": copy.path, "of": copy.of, "sha256": copy.sha256, "volume": copy.volume}
            for copy in result.copies
        ],
    }


def _describe(node: ChainNode) -> ChainNodeJson:
    return {
        "kind": node.kind,
        "id": node.id,
        "name": node.name,
        "entry": node.entry,
        "by": node.by,
        "time": node.time,
        "sources": list(node.sources),
        "values": {
            key: {
                "value": known.value,
                "unit": known.unit,
                "known_by": str(known.known_by),
                "confirmed": known.confirmed,
            }
            for key, known in node.values.items()
        },
        "not_recorded": list(node.not_recorded),
    }


def make_screen(result: TraceResult) -> RenderableType:
    """Return what a person reads."""
    style = _STATE_STYLE.get(result.state, STRONG) if result.state is not None else STRONG
    parts: list[RenderableType] = [say_sentence(result.sentence, style)]
    if result.sha256:
        parts.append(
            say(f"sha256 {format_digest(result.sha256)} …, matched by {result.matched_by}", QUIET)
        )
    if result.chain:
        parts += [Text(""), _draw(result.chain)]
    if result.onward:
        parts += [title("Made of it"), _list_onward(result.onward)]
    if result.known and result.sha256:
        parts += _list_copies(result)
    parts += _list_unmeasured(result)
    if result.remedy:
        parts.append(next_step(result.remedy))
    return Group(*parts)


def _draw(chain: tuple[ChainNode, ...]) -> Tree:
    nodes = {node.id: node for node in chain}
    fed = {source for node in chain for source in node.sources}
    roots = [node for node in chain if node.id not in fed] or [chain[0]]
    drawn: set[str] = set()
    tree = Tree("", hide_root=True, guide_style=QUIET)
    for root in roots:
        _grow(tree, root, nodes, drawn)
    return tree


def _grow(branch: Tree, node: ChainNode, nodes: Mapping[str, ChainNode], drawn: set[str]) -> None:
    if node.id in drawn:
        branch.add(say(f"{_name(node)}: see above", QUIET))
        return
    drawn.add(node.id)
    twig = branch.add(_show(node))
    sources = [nodes[source] for source in node.sources if source in nodes]
    files = [source for source in sources if source.kind == "file" and not source.sources]
    for source in sources:
        if source not in files[_FILES_SHOWN:]:
            _grow(twig, source, nodes, drawn)
    hidden = files[_FILES_SHOWN:]
    if hidden:
        twig.add(say(f"and {count_things(len(hidden), 'more file')}", QUIET))


def _name(node: ChainNode) -> str:
    if node.kind == "file":
        return node.name or f"file {node.id}"
    named = f" “{node.name}”" if node.name else ""
    return f"{node.kind} {node.id}{named}"


def _show(node: ChainNode) -> RenderableType:
    head = Text.assemble((escape_for_screen(_name(node)), STRONG))
    if node.entry:
        by = f" by {node.by}" if node.by else ""
        on = f", {node.time[:16].replace('T', ' ')} UTC" if node.time else ""
        head.append(escape_for_screen(f"   entry {node.entry}{by}{on}"), QUIET)
    parts: list[RenderableType] = [head]
    if node.values:
        parts.append(_tabulate(node.values))
    for change in node.changes:
        before, now = write_value(change.before), write_value(change.now)
        parts.append(
            say(f"unlike {node.run_before}: {label_field(change.field)} {before} → {now}", DOUBT)
        )
    if node.not_recorded:
        labels = ", ".join(label_field(key) for key in node.not_recorded)
        parts.append(say(f"not recorded: {labels}", DOUBT))
    return Group(*parts)


def _tabulate(values: Mapping[str, KnownValue]) -> Table:
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), show_header=False)
    table.add_column(no_wrap=True, style=QUIET)
    table.add_column(overflow="fold")
    table.add_column(no_wrap=True, style=QUIET)
    for key, known in values.items():
        table.add_row(say(label_field(key)), say(write_value(known)), say(tell_how(known)))
    return table


def _list_copies(result: TraceResult) -> list[RenderableType]:
    parts: list[RenderableType] = [title("Other copies of the raw files")]
    if not result.copies:
        return [*parts, say_lines(["not recorded: no other copy is known"], DOUBT, indent=2)]
    lines = (f"{copy.of}: {copy.path}" for copy in result.copies)
    return [*parts, say_lines(lines, indent=2)]


def _list_onward(nodes: tuple[ChainNode, ...]) -> RenderableType:
    return say_lines((f"{_name(node)}   entry {node.entry}" for node in nodes), indent=2)


def _list_unmeasured(result: TraceResult) -> list[RenderableType]:
    if not result.unmeasured:
        return []
    lines = (
        f"{each.node} {label_field(each.field)}: {write_value(each.value)} ({tell_how(each.value)})"
        for each in result.unmeasured
    )
    return [title("Assumed or carried over, not measured"), say_lines(lines, DOUBT, indent=2)]
