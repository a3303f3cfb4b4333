"""What `trace` shows: a tree from the file down to the capture.

What was not recorded is printed as *not recorded*, never left out.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Annotated, Any, TypedDict

from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text
from rich.tree import Tree

from ledger.model.filename import escape_for_screen
from ledger.model.lineage import CustodyState
from ledger.model.phrases import count_things
from ledger.report.screen import (
    BAD,
    DOUBT,
    GOOD,
    QUIET,
    STRONG,
    format_digest,
    next_step,
    say,
    say_lines,
    title,
)
from ledger.report.tracerows import Row, list_facts, list_rows, sum_up_file
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


ChainNodeJson = TypedDict(
    "ChainNodeJson",  # in this form, because one key is a word of the language
    {
        "kind": Annotated[str, "file, audit, run, step, flight, rig, or the kind of an entry"],
        "id": Annotated[str, "R1, F1, D1; first digits of a file's digest; number of an entry"],
        "name": Annotated[str, "its name; for a file its path"],
        "entry": Annotated[int, "entry that holds it; 0 for none"],
        "by": Annotated[str, "function of the person who entered it"],
        "time": Annotated[str, "when it was entered, UTC"],
        "from": Annotated[list[str], "ids of what it comes from"],
        "values": Annotated[dict[str, ValueJson], "what is recorded of it, by field key"],
        "not_recorded": Annotated[list[str], "keys of core fields without a value"],
    },
)
ChainNodeJson.__doc__ = "One thing in the chain."


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
        "from": list(node.sources),
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
    parts: list[RenderableType] = [say(result.sentence, style)]
    if result.sha256:
        parts.append(
            say(f"sha256 {format_digest(result.sha256)} …, matched by {result.matched_by}", QUIET)
        )
    parts += [_say_audit(node) for node in result.chain if node.kind == "audit"]
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


def _say_audit(node: ChainNode) -> RenderableType:
    values = {key.rsplit(".", 1)[-1]: known for key, known in node.values.items()}
    verdict = write_value(values.get("verdict"))
    return say(f"In {node.name or node.id}, audited on {node.time[:10]} as {node.id}: {verdict}.")


def _draw(chain: tuple[ChainNode, ...]) -> Tree:
    # An audit looked at files and made none: it stands above the tree, not in it.
    nodes = {node.id: node for node in chain if node.kind != "audit"} or {
        node.id: node for node in chain
    }
    fed = {source for node in nodes.values() for source in node.sources}
    roots = [node for node in nodes.values() if node.id not in fed] or list(nodes.values())[:1]
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
    files = sorted((each for each in sources if _is_raw(each)), key=_rank_file)
    for source in sources:
        if not _is_raw(source):
            _grow(twig, source, nodes, drawn)
    fresh = [file for file in files if file.id not in drawn]
    for file in fresh[:_FILES_SHOWN]:
        drawn.add(file.id)
        twig.add(_show_raw(file))
    if len(fresh) > _FILES_SHOWN:
        twig.add(say(f"and {count_things(len(fresh) - _FILES_SHOWN, 'more file')}", QUIET))


def _is_raw(node: ChainNode) -> bool:
    return node.kind == "file" and not node.sources


def _rank_file(node: ChainNode) -> tuple[bool, str]:
    return not sum_up_file(node).startswith("capture"), node.name


def _show_raw(node: ChainNode) -> RenderableType:
    return Text.assemble(escape_for_screen(_name(node)), ("  ", ""), (sum_up_file(node), QUIET))


def _name(node: ChainNode) -> str:
    if node.kind == "file":
        return node.name or f"file {node.id}"
    named = f" “{node.name}”" if node.name else ""
    return f"{node.kind} {node.id}{named}"


def _show(node: ChainNode) -> RenderableType:
    head = Text.assemble((escape_for_screen(_name(node)), STRONG))
    if node.entry:
        on = f", {node.time[:10]}" if node.time else ""
        head.append(escape_for_screen(f"   entry {node.entry}, {node.by}{on}"), QUIET)
    parts: list[RenderableType] = [head]
    if rows := list(list_facts(node) if node.kind == "file" else list_rows(node)):
        parts.append(_tabulate(rows))
    if node.changes:
        parts.append(_show_changes(node))
    return Group(*parts)


def _show_changes(node: ChainNode) -> RenderableType:
    changes = (
        f"{label_field(change.field)} {write_value(change.before)} → {write_value(change.now)}"
        for change in node.changes
    )
    return say(f"unlike {node.run_before}: {'; '.join(changes)}", DOUBT)


def _tabulate(rows: Iterable[Row]) -> Table:
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), show_header=False)
    table.add_column(no_wrap=True, style=QUIET)
    table.add_column(overflow="fold")
    table.add_column(style=QUIET)
    for row in rows:
        doubt = DOUBT if "not recorded" in row.text or row.label == "not recorded" else ""
        table.add_row(say(row.label), say(row.text, doubt), say(row.how))
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
