"""The chain of a run, a flight, a rig, an audit, a finding, or any entry by its number."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Mapping
from typing import Any

from ledger.canonical import decode
from ledger.model.entry import Entry, Kind
from ledger.model.known import KnownBy, KnownValue
from ledger.trace.chain import ChainBuilder
from ledger.trace.files import make_file_id
from ledger.trace.findings import TracedFinding, read_finding
from ledger.trace.nodes import ChainNode
from ledger.trace.target import Target

_DIGEST = re.compile(r"[0-9a-f]{64}")


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
    elif target.kind == "finding":
        _add_finding(builder, target.id)
    else:
        _add_process(builder, target.id)


def _add_any(builder: ChainBuilder, entry: Entry) -> None:
    """Add what an entry is about; an entry about nothing else stands for itself."""
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
    elif entry.kind == Kind.ACCEPTANCE:
        _add_finding(builder, str(entry.values["finding"]))
    elif "record" in entry.values:
        _add_subject(builder, str(entry.values["record"]))
    if not builder.nodes:
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
    counts: Counter[str] = Counter()
    for stored in _read_manifest(builder, entry):
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
    """Add a finding, the audit that has it, and the chain of what it is about."""
    found = read_finding(builder.book, name)
    if found is None:
        return
    entry, finding = found.audit, found.stored.finding
    about = _find_subject(builder, entry, finding.where.file or finding.subject)
    audit = str(entry.values.get("id", ""))
    builder.nodes[name] = ChainNode(
        kind="finding",
        id=name,
        entry=entry.seq,
        sources=(about,) if about else (),
        values=_describe_finding(found),
        name=f"{audit} ({entry.values.get('folder', '')})",
        by=entry.by,
        time=entry.time,
    )
    builder.add_audit(audit, entry.seq, (about,) if about else ())
    if about in (stored := _index_manifest(builder, entry)):
        sha256, path = stored[about]
        builder.add_file(sha256, path, builder.ancestry.find_custody(sha256))
    elif about:
        _add_subject(builder, about)


def _find_subject(builder: ChainBuilder, entry: Entry, subject: str) -> str:
    """Return the id of the file, run, flight or rig that a finding is about; empty for none."""
    for stored in _read_manifest(builder, entry):
        if stored["path"] == subject and stored["sha256"]:
            return make_file_id(stored["sha256"])
    known = builder.book.process(subject) or builder.book.card(subject)
    return subject if known is not None else ""


def _index_manifest(builder: ChainBuilder, entry: Entry) -> dict[str, tuple[str, str]]:
    """Return digest and recorded path of the audited files, by their ids in a chain."""
    folder = str(entry.values.get("folder", ""))
    before = "" if folder in ("", ".") else f"{folder}/"
    return {
        make_file_id(stored["sha256"]): (stored["sha256"], f"{before}{stored['path']}")
        for stored in _read_manifest(builder, entry)
    }


def _add_subject(builder: ChainBuilder, name: str) -> None:
    card = builder.book.card(name)
    if card is None:
        _add_process(builder, name)
    elif name.startswith("F"):
        builder.add_flight(name)
    else:
        builder.add_rig(card)


def _describe_finding(found: TracedFinding) -> dict[str, KnownValue]:
    finding = found.stored.finding
    told = {
        "sentence": finding.sentence,
        "check": finding.check,
        "outcome": str(finding.grade or finding.outcome),
        "found": " ".join(part for part in (finding.observed, finding.unit) if part),
        "required": " ".join(part for part in (finding.required, finding.unit) if part),
        "criterion_source": finding.criterion_source,
        "remedy": finding.remedy,
    }
    if found.acceptance is not None:
        taken = found.acceptance
        told["accepted"] = f"by the {taken.by}, entry {taken.entry}: {taken.reason}"
    return {f"finding.{key}": _read(text) for key, text in told.items() if text}


def _read_manifest(builder: ChainBuilder, entry: Entry) -> list[dict[str, Any]]:
    listed: list[dict[str, Any]] = decode(builder.book.blob(str(entry.values["manifest"])))
    return listed


def _add_plain(builder: ChainBuilder, entry: Entry) -> None:
    """Add an entry that stands for itself, and the files that it lists."""
    records = _read_manifest(builder, entry) if _lists_files(entry) else []
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
    return key != "sha256" and isinstance(text, str) and bool(_DIGEST.fullmatch(text))


def _lists_files(entry: Entry) -> bool:
    return entry.kind in (Kind.FILES, Kind.SIGHTING) and "manifest" in entry.values


def _read(value: object) -> KnownValue:
    return KnownValue(value, known_by=KnownBy.READ)
