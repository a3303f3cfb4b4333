"""The chain of a record: a run, a flight, a rig, an audit, or any entry by its number."""

from __future__ import annotations

import json
from typing import Any

from ledger.model.entry import Entry, Kind
from ledger.model.known import KnownBy, KnownValue
from ledger.trace.chain import ChainBuilder
from ledger.trace.files import make_file_id
from ledger.trace.nodes import ChainNode
from ledger.trace.target import Target


def add_entry(builder: ChainBuilder, target: Target) -> None:
    """Add the record that a target means, and everything that it comes from."""
    if target.kind == "entry":
        entry = builder.book.entry(int(target.id))
        if entry is not None:
            _add_any(builder, entry)
    elif target.kind == "flight":
        builder.add_flight(target.id)
    elif target.kind == "rig":
        _add_rig(builder, target.id)
    elif target.kind == "audit":
        _add_audit(builder, target.id)
    else:
        _add_process(builder, target.id)


def _add_any(builder: ChainBuilder, entry: Entry) -> None:
    name = str(entry.values.get("id", ""))
    if entry.kind in (Kind.RUN, Kind.STEP):
        _add_process(builder, name)
    elif entry.kind == Kind.DECISION:
        _add_process(builder, str(entry.values["process"]))
    elif entry.kind == Kind.FLIGHT:
        builder.add_flight(name)
    elif entry.kind == Kind.RIG:
        _add_rig(builder, name)
    elif entry.kind == Kind.AUDIT:
        _add_audited(builder, entry)
    else:
        _add_plain(builder, entry)


def _add_process(builder: ChainBuilder, name: str) -> None:
    process = builder.book.process(name)
    if process is not None:
        builder.add_processes([process])


def _add_rig(builder: ChainBuilder, name: str) -> None:
    card = builder.book.card(name)
    if card is not None:
        builder.add_rig(card)


def _add_audit(builder: ChainBuilder, name: str) -> None:
    entries = [e for e in builder.book.entries(Kind.AUDIT) if e.values.get("id") == name]
    _add_audited(builder, entries[-1])


def _add_audited(builder: ChainBuilder, entry: Entry) -> None:
    """Add an audit, the processes that made its files, and the files that none made."""
    makers = {}
    orphans = {}
    for stored in json.loads(builder.book.blob(entry.values["manifest"])):
        custody = builder.ancestry.find_custody(stored["sha256"])
        if custody.maker is None:
            orphans[stored["sha256"]] = stored["path"]
        else:
            makers[custody.maker.id] = custody.maker
    sources = [*makers, *(make_file_id(sha256) for sha256 in orphans)]
    builder.add_audit(str(entry.values["id"]), entry.seq, sources)
    builder.add_processes(makers.values())
    for sha256, path in orphans.items():
        node = builder.files.make_node(sha256, path, [], None)
        builder.nodes.setdefault(node.id, node)


def _add_plain(builder: ChainBuilder, entry: Entry) -> None:
    """Add an entry that stands for itself, and the files that it lists."""
    records = _list_files(builder, entry)
    values = {
        f"{entry.kind}.{key}": KnownValue(value, known_by=KnownBy.READ, where=f"entry {entry.seq}")
        for key, value in entry.values.items()
        if isinstance(value, (str, int))
    }
    builder.nodes[str(entry.seq)] = ChainNode(
        kind=entry.kind,
        id=str(entry.seq),
        entry=entry.seq,
        sources=tuple(make_file_id(stored["sha256"]) for stored in records),
        values=values,
        by=entry.by,
        time=entry.time,
    )
    for stored in records:
        node = builder.files.make_node(stored["sha256"], stored["path"], [], None)
        builder.nodes.setdefault(node.id, node)


def _list_files(builder: ChainBuilder, entry: Entry) -> list[dict[str, Any]]:
    if entry.kind not in (Kind.FILES, Kind.SIGHTING):
        return []
    listed: list[dict[str, Any]] = json.loads(builder.book.blob(entry.values["manifest"]))
    return listed
