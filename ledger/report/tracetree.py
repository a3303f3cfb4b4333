"""The records of a trace as a tree, from what is nearest to the file down to the rig."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace

from rich.console import Group, RenderableType
from rich.text import Text
from rich.tree import Tree

from ledger.model.blanks import is_blank
from ledger.model.filename import escape_for_screen
from ledger.model.phrases import describe_bytes
from ledger.report.screen import DOUBT, QUIET, STRONG, say
from ledger.report.tracehistory import list_altered, list_history, list_reduced
from ledger.report.tracerows import RECORDED, Row, join_ids, list_facts, list_others, list_rows
from ledger.report.tracetable import ALL_HINT, tabulate
from ledger.report.values import label_field, write_value
from ledger.trace.nodes import ChainNode, SettingChange

_RECORDS = ("statement", "points", "run", "step", "flight", "rig")
_DRAWN = 6


def draw_records(chain: Sequence[ChainNode]) -> list[RenderableType]:
    """Return runs, steps, flights and rigs, one line each; many of them, one line a kind."""
    nodes = {node.id: node for node in chain if node.kind in _RECORDS}
    if not nodes:
        return []
    if len(nodes) > _DRAWN:
        return [tabulate([_sum_up_kinds(nodes.values())])]
    return [_draw(nodes, _show_head)]


def draw_everything(chain: Sequence[ChainNode]) -> RenderableType:
    """Return every node of the chain with every value."""
    # An audit looked at files and made none: it stands above the tree, not in it.
    nodes = {node.id: node for node in chain if node.kind != "audit"}
    return _draw(nodes or {node.id: node for node in chain}, _show_all)


def _sum_up_kinds(nodes: Iterable[ChainNode]) -> Row:
    kinds: dict[tuple[str, str], list[str]] = {}
    for node in nodes:
        kinds.setdefault((node.kind, _decision(node)), []).append(node.id)
    told = [
        f"{kind if len(ids) == 1 else f'{kind}s'} {join_ids(ids)} {decision}".strip()
        for (kind, decision), ids in kinds.items()
    ]
    return Row("made by", f"{', '.join(told)}: {ALL_HINT}")


def _draw(
    nodes: Mapping[str, ChainNode], show: Callable[[ChainNode], RenderableType]
) -> RenderableType:
    fed = {source for node in nodes.values() for source in node.sources}
    roots = [node for node in nodes.values() if node.id not in fed] or list(nodes.values())[:1]
    drawn: set[str] = set()
    tree = Tree("", hide_root=True, guide_style=QUIET)
    for root in roots:
        _grow(tree, root, nodes, drawn, show)
    return tree


def _grow(
    branch: Tree,
    node: ChainNode,
    nodes: Mapping[str, ChainNode],
    drawn: set[str],
    show: Callable[[ChainNode], RenderableType],
) -> None:
    if node.id in drawn:
        branch.add(say(f"{name_node(node)}: see above", QUIET))
        return
    drawn.add(node.id)
    twig = branch.add(show(node))
    sources = [nodes[source] for source in node.sources if source in nodes]
    for source in sorted(sources, key=_rank):
        if not (_is_raw(source) and source.id in drawn):
            _grow(twig, source, nodes, drawn, show)


def _is_raw(node: ChainNode) -> bool:
    return node.kind == "file" and not node.sources


def _rank(node: ChainNode) -> tuple[bool, bool]:
    """Return the order of sources: records, then captures, then other files."""
    role = node.values.get("file.role")
    return _is_raw(node), role is None or role.value != "capture"


def name_node(node: ChainNode) -> str:
    """Return what a node is called: its kind and id, or the path of a file."""
    if node.kind == "file":
        return node.name or f"file {node.id}"
    named = f" “{node.name}”" if node.name else ""
    return f"{node.kind} {node.id}{named}"


def _decision(node: ChainNode) -> str:
    known = node.values.get(f"{node.kind}.decision")
    return str(known.value) if known is not None else ""


def _program(node: ChainNode) -> str:
    if node.kind not in ("run", "step"):
        return ""
    known = (node.values.get(f"{node.kind}.{name}") for name in ("software", "version"))
    return " ".join(write_value(each) for each in known if each)


def _show_head(node: ChainNode) -> Text:
    """Return name, program, decision, and who recorded it when."""
    head = Text.assemble((escape_for_screen(name_node(node)), STRONG))
    told = [_program(node), _decision(node)]
    if node.entry:
        told += [f"entry {node.entry}", node.by, node.time[:10]]
    if f"{node.kind}.recorded_late" in node.values:
        told.append("late")
    repeated = node.values.get(f"{node.kind}.repeated")
    if repeated is not None:  # the latest one is the last told
        told.append(f"repeated: {str(repeated.value).rpartition('; ')[2].partition(',')[0]}")
    head.append(escape_for_screen("   " + ", ".join(part for part in told if part)), QUIET)
    return head


def _show_all(node: ChainNode) -> RenderableType:
    if _is_raw(node):
        return Text.assemble(
            escape_for_screen(name_node(node)), ("  ", ""), (_sum_up_file(node), QUIET)
        )
    if node.kind == "file":
        rows = list(list_facts(node))
    else:
        rows = [*list_rows((node,), RECORDED), *list_others(node)]
        rows += [*list_reduced(node), *list_history(node), *list_altered(node)]
        rows = [replace(row, who="") for row in rows]  # the records stand above their rows
    parts: list[RenderableType] = [_show_head(node)]
    if rows:
        parts.append(tabulate(rows))
    parts += [say(f"amended: {told}", DOUBT) for told in list_amended(node)]
    if told := list_changes(node):
        parts.append(say(f"unlike {node.run_before}: {'; '.join(told)}", DOUBT))
    parts += [say(told) for told in list_one_sided(node)]
    return Group(*parts)


def list_amended(node: ChainNode) -> list[str]:
    """Return each value that was struck through, with what stood there and why it went."""
    return [
        f"{label_field(each.field)} was {write_value(each.before)} until entry {each.entry}"
        + (f" ({each.reason})" if each.reason else "")
        for each in node.amended
    ]


def find_changes(node: ChainNode) -> list[SettingChange]:
    """Return what differs from the run before.

    A value that only one of the two has is no difference: the other one may be the same.
    """
    return [
        change
        for change in node.changes
        if not is_blank(change.before) and not is_blank(change.now)
    ]


def list_changes(node: ChainNode) -> list[str]:
    """Return each setting that differs from the run before, with both values."""
    return [
        f"{label_field(change.field)} {write_value(change.before)} → {write_value(change.now)}"
        for change in find_changes(node)
    ]


def list_one_sided(node: ChainNode) -> list[str]:
    """Return which settings cannot be compared, because only one of the two runs has them."""
    here = [label_field(each.field) for each in node.changes if is_blank(each.before)]
    before = [label_field(each.field) for each in node.changes if is_blank(each.now)]
    return [
        f"recorded in {name} alone: {', '.join(names)}"
        for name, names in ((node.id, here), (node.run_before, before))
        if names
    ]


def _sum_up_file(node: ChainNode) -> str:
    """Return role, size and digest of a file in one line."""
    values = {key.rpartition(".")[2]: known.value for key, known in node.values.items()}
    parts = [str(values.get("role", ""))]
    if isinstance(size := values.get("bytes"), int):
        parts.append(describe_bytes(size))
    if values.get("sha256"):
        parts.append(f"sha256 {node.id} …")  # what can be typed after `trace`
    if fault := str(values.get("fault", "")):
        parts.append(f"cannot be read: {fault}")
    return escape_for_screen(", ".join(part for part in parts if part))
