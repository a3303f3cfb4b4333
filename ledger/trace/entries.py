"""The chain of a run, a flight, a rig, an audit, a finding, or any entry by its number."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping

from ledger.loading import load_part
from ledger.model.entry import Entry, Kind
from ledger.model.known import KnownBy, KnownValue
from ledger.trace.chain import ChainBuilder
from ledger.trace.files import is_digest, make_file_id, read_manifest
from ledger.trace.nodes import ChainNode
from ledger.trace.sent import make_transmittal_node
from ledger.trace.target import Target


def add_entry(builder: ChainBuilder, target: Target) -> None:
    """Add the record that a target means, and everything that it comes from."""
    if target.kind == "entry":
        entry = builder.book.entry(int(target.id))
        if entry is not None:
            _add_any(builder, entry)
    elif target.kind == "audit":
        _add_audit(builder, target.id)
    elif target.kind == "transmittal":
        _add_transmittal(builder, target.id)
    elif target.kind == "finding":
        _add_finding(builder, target.id)
    else:
        builder.add_record(target.id)


def _add_any(builder: ChainBuilder, entry: Entry) -> None:
    """Add what an entry is about; an entry about nothing else stands for itself."""
    if entry.kind == Kind.AUDIT:
        _add_audited(builder, entry)
    elif entry.kind == Kind.TRANSMITTAL:
        _add_transmittal(builder, str(entry.values["id"]))
    elif entry.kind == Kind.ACCEPTANCE:
        _add_finding(builder, str(entry.values["finding"]))
    else:
        # A decision names a process, an amendment a record; other entries are their own record.
        named = (entry.values.get(key) for key in ("id", "process", "record"))
        builder.add_record(next((str(name) for name in named if name), ""))
    if not builder.nodes:
        _add_plain(builder, entry)


def _add_audit(builder: ChainBuilder, name: str) -> None:
    entries = [e for e in builder.book.entries(Kind.AUDIT) if e.values.get("id") == name]
    _add_audited(builder, entries[-1])


def _add_transmittal(builder: ChainBuilder, name: str) -> None:
    """Add what was handed over, and what that was made from."""
    entry = next(e for e in builder.book.entries(Kind.TRANSMITTAL) if e.values["id"] == name)
    node = make_transmittal_node(entry)
    builder.nodes[node.id] = node
    _add_audit(builder, str(entry.values["deliverable"]))


def _add_audited(builder: ChainBuilder, entry: Entry) -> None:
    """Add an audit, the processes that made its files, and the files that none made."""
    makers = {}
    orphans = {}
    counts: Counter[str] = Counter()
    for stored in read_manifest(builder.book, entry):
        custody = builder.ancestry.find_custody(stored["sha256"])
        counts[custody.maker.id if custody.maker else "no recorded run or step"] += 1
        if custody.maker is None:
            orphans[stored["sha256"]] = stored["path"]
        else:
            makers[custody.maker.id] = custody.maker
    sources = [*makers, *(make_file_id(sha256) for sha256 in orphans)]
    builder.add_audit(str(entry.values["id"]), entry.seq, sources, _count_values(counts))
    builder.add_processes(makers.values())
    for sha256, path in orphans.items():
        node = builder.files.make_node(sha256, path, [], None)
        builder.nodes.setdefault(node.id, node)


def _count_values(counts: Counter[str]) -> dict[str, KnownValue]:
    """Return how many files there are, and how many each run or step made."""
    told = ", ".join(f"{number} by {maker}" for maker, number in counts.items())
    return {"audit.files": _read(counts.total()), "audit.files_made": _read(told)}


def _add_finding(builder: ChainBuilder, name: str) -> None:
    load_part("ledger.trace.findings", "add_finding")(builder, name)


def _add_plain(builder: ChainBuilder, entry: Entry) -> None:
    """Add an entry that stands for itself, and the files that it lists."""
    records = read_manifest(builder.book, entry) if _lists_files(entry) else []
    builder.nodes[str(entry.seq)] = ChainNode(
        kind=entry.kind,
        id=str(entry.seq),
        entry=entry.seq,
        sources=tuple(make_file_id(stored["sha256"]) for stored in records),
        values={
            f"{entry.kind}.{key}": _read(text)
            for key, value in entry.values.items()
            if (text := _write_plain(value)) not in ("", None) and not _is_list_of_files(key, text)
        },
        by=entry.by,
        time=entry.time,
    )
    for stored in records:
        node = builder.files.make_node(stored["sha256"], stored["path"], [], None)
        builder.nodes.setdefault(node.id, node)


def _write_plain(value: object) -> object:
    """Return a value of an entry as one that can be read; None for what is too deep to be."""
    if isinstance(value, Mapping):
        parts = [f"{count} {key}" for key, count in value.items() if isinstance(count, int)]
        return ", ".join(parts) or None
    return value if isinstance(value, (str, int)) else None


def _is_list_of_files(key: str, text: object) -> bool:
    """Say whether a value is only where the list of an entry lies in the book."""
    return key != "sha256" and isinstance(text, str) and is_digest(text)


def _lists_files(entry: Entry) -> bool:
    return entry.kind in (Kind.FILES, Kind.SIGHTING) and "manifest" in entry.values


def _read(value: object) -> KnownValue:
    return KnownValue(value, known_by=KnownBy.READ)
