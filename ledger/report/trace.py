"""What `trace` shows: on one screen what a client asks about a file, with `--all` everything.

One screen is 80 columns by 24 lines, what a laptop shows in a field. What was not recorded is
printed as *not recorded*, never left out; whatever is shortened says how to see the rest.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from rich.console import Group, RenderableType
from rich.text import Text

from ledger.model.lineage import CustodyState
from ledger.report.screen import BAD, DOUBT, GOOD, QUIET, STRONG, say, say_next
from ledger.report.tracefiles import list_head, list_raw
from ledger.report.tracehistory import list_altered, list_history, list_reduced
from ledger.report.traceonward import make_onward
from ledger.report.tracerows import (
    ASKED,
    LOOKED_AT,
    RECORDED,
    Row,
    join_ids,
    list_left,
    list_others,
    list_rows,
)
from ledger.report.tracetable import ALL_HINT, list_some, tabulate
from ledger.report.tracetree import (
    draw_everything,
    draw_records,
    find_changes,
    list_amended,
    list_changes,
)
from ledger.report.values import label_field, tell_how
from ledger.trace.nodes import ChainNode, Copy, TraceResult

_STATE_STYLE = {
    CustodyState.ACCEPTED: GOOD,
    CustodyState.UNDECIDED: DOUBT,
    CustodyState.STALE: BAD,
    CustodyState.ORPHAN: DOUBT,
}
_MADE = ("run", "step", "flight", "rig")
_RECORDS = ("statement", "points", *_MADE)
# What nobody recorded of where a file comes from, and which questions that leaves open.
_ORIGINS = {
    "file.made_by": (
        "made by",
        "raw files, geoid, frame and epoch, mount mode, antenna, lever arm",
    ),
    "file.flight": ("flight", "mount mode, antenna, lever arm, base, frame and epoch"),
}
_HAS_ONWARD = ("file", *_MADE)
_NAMES_SHOWN = 3
_CHANGES_SHOWN = 2
_AMENDED_SHOWN = 1
_NEXT_SHOWN = 1
# The other rows that a record has when it is asked for itself.
_OWN = {label: fields for label, fields in RECORDED.items() if label not in ASKED}


def make_screen(result: TraceResult, *, everything: bool = False) -> RenderableType:
    """Return what a person reads.

    Args:
        result: the trace.
        everything: show every record in full, every file, every place.
    """
    style = _STATE_STYLE.get(result.state, STRONG) if result.state is not None else STRONG
    parts: list[RenderableType] = [say(result.sentence, style)]
    parts += [say(note, DOUBT) for note in result.notes]
    head = list(list_head(result, everything=everything))
    if result.chain and result.chain[0].kind in ("audit", "finding"):
        head += _list_looked_at(result.chain[0])
    if head:
        parts.append(tabulate(head))
    if result.is_onward:
        parts += make_onward(result, everything=everything)
    elif result.chain and everything:
        parts += [Text(""), draw_everything(result.chain), *_list_copies(result)]
    elif result.chain:
        parts += draw_records(result.chain)
        parts += [tabulate(_list_values(result)), tabulate(_list_rest(result))]
    parts += _list_next(result, everything=everything)
    return Group(*parts)


def _list_values(result: TraceResult) -> Iterator[Row]:
    """Yield what a client asks; all of a record that was asked for itself."""
    first = result.chain[0]
    records = [node for node in result.chain if node.kind in _RECORDS]
    # Asked for itself, and of another sort than what it is about.
    if first.kind in ("statement", "points"):
        yield from list_rows((first,), _OWN)
    yield from list_rows(records)
    if first.kind in _MADE:  # asked for itself, and told in full
        yield from list_rows((first,), _OWN)
    if first.kind not in ("file", "audit", "finding"):
        yield from list_others(first)
    yield from list_reduced(first)
    yield from list_history(first)
    for key, (label, cost) in _ORIGINS.items():
        if key in result.not_recorded:
            yield Row(label, "", label)
            yield Row("so unknown", cost)


def _list_looked_at(first: ChainNode) -> Iterator[Row]:
    """Yield what an audit or a finding says, where one of them was asked for."""
    for row in list_rows((first,), LOOKED_AT):
        yield replace(row, who="", how="")


def _list_rest(result: TraceResult) -> Iterator[Row]:
    """Yield what differs, the raw files, what was assumed, and what else was not recorded."""
    records = [node for node in result.chain if node.kind in _RECORDS]
    for node in records:
        if node.amended:
            told = list_some(list_amended(node), _AMENDED_SHOWN, everything=False)
            yield Row("amended", f"{node.id} {told}", is_strong=True)
        yield from _list_changed(node)
        yield from list_altered(node)
    yield from list_raw(result)
    yield from _list_unmeasured(result)
    yield from _list_left(records)


def _list_changed(node: ChainNode) -> Iterator[Row]:
    """Yield in one line what differs from the run before, and how much cannot be compared."""
    if not node.changes:
        return
    changes = find_changes(node)
    apart = len(node.changes) - len(changes)
    is_long = bool(apart) or len(changes) > _CHANGES_SHOWN
    told = list_changes(node)
    if is_long and len(changes) > 1:
        names = list_some([label_field(c.field) for c in changes], _CHANGES_SHOWN, everything=False)
        told = [names.removesuffix(f": {ALL_HINT}")]
    if apart:
        told.append(f"{apart} blank in one of them")
    text = "; ".join(told) + (f": {ALL_HINT}" if is_long else "")
    yield Row(f"{node.id} unlike", f"{node.run_before}: {text}")


def _list_unmeasured(result: TraceResult) -> Iterator[Row]:
    """Yield which values were assumed or carried over, by how."""
    label = "assumed"
    found: dict[str, dict[str, list[str]]] = {}
    for each in result.unmeasured:
        named = found.setdefault(tell_how(each.value), {})
        name = label_field(each.field.removesuffix(".sha256"))
        named.setdefault(name, []).append(each.node)
    if not found and any(node.kind in _RECORDS for node in result.chain):
        yield Row(label, "nothing; nothing was carried over from another job either")
    for how, named in found.items():
        names = [f"{name} ({join_ids(ids)})" for name, ids in named.items()]
        told = list_some(names, _NAMES_SHOWN, everything=False)
        yield Row(label, f"{how}: {told}", is_strong=True)
        label = ""


def _list_left(records: list[ChainNode]) -> Iterator[Row]:
    left = list_left(records, ASKED)
    if left:
        yield Row("also blank", "", list_some(left, _NAMES_SHOWN, everything=False))


def _list_copies(result: TraceResult) -> list[RenderableType]:
    rows = [
        Row("copy", f"{copy.of}: {copy.path}", "", _say_state(copy), copy.time[:10])
        for copy in result.backing.copies
    ]
    if not rows and "copies" in result.not_recorded:
        rows = [Row("copies", "", "copies")]
    return [tabulate([*rows, *_list_unmeasured(result)])] if rows else []


def _say_state(copy: Copy) -> str:
    if copy.wrong:
        return copy.wrong
    return "read back" if copy.verified else "seen"


def _list_next(result: TraceResult, *, everything: bool) -> list[RenderableType]:
    remedies = () if result.is_onward and result.known else result.remedies
    shown = remedies if everything or not result.known else remedies[:_NEXT_SHOWN]
    parts: list[RenderableType] = [say_next(each.command, each.why) for each in shown]
    if result.known and not everything:
        left = len(remedies) - len(shown)
        more = f", and {left} more to type next" if left else ""
        hint = f"Everything{more}: {ALL_HINT}."
        if not result.is_onward and result.chain and result.chain[0].kind in _HAS_ONWARD:
            hint += " What was made of it: --onward."
        parts.append(say(hint, QUIET))
    return parts
