"""Findings of audits: by the beginning of an id, and what became of one."""

from __future__ import annotations

from collections.abc import Iterator

from ledger.auditentry import StoredFinding, read_acceptances, read_audit
from ledger.dataclass import dataclass
from ledger.model.acceptance import Acceptance
from ledger.model.entry import Entry, Kind
from ledger.model.known import KnownBy, KnownValue
from ledger.store.reading import Book
from ledger.trace.chain import ChainBuilder
from ledger.trace.files import make_file_id, read_manifest
from ledger.trace.nodes import ChainNode


@dataclass(frozen=True)
class _TracedFinding:
    """A finding where it was entered last.

    Args:
        audit: the entry of that audit.
        stored: the finding, under the id that it had then.
        acceptance: who took it, and why; None for nobody.
    """

    audit: Entry
    stored: StoredFinding
    acceptance: Acceptance | None


def find_findings(book: Book, prefix: str) -> tuple[str, ...]:
    """Return the ids, in any audit, that begin like this, sorted; conforming results have none."""
    found = {
        stored.id
        for entry in _list_holders(book, prefix)
        for stored in read_audit(book, entry).findings
        if stored.id.startswith(prefix)
    }
    return tuple(sorted(found))


def _read_finding(book: Book, name: str) -> _TracedFinding | None:
    """Return a finding by its whole id, from the latest audit that has it; None for none."""
    for entry in reversed(list(_list_holders(book, name))):
        for stored in read_audit(book, entry).findings:
            if stored.id == name:
                return _TracedFinding(entry, stored, read_acceptances(book).get(name))
    return None


def add_finding(builder: ChainBuilder, name: str) -> None:
    """Add a finding, the audit that has it, and the chain of what it is about."""
    found = _read_finding(builder.book, name)
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
        builder.add_record(about)


def _find_subject(builder: ChainBuilder, entry: Entry, subject: str) -> str:
    """Return the id of the file, run, flight or rig that a finding is about; empty for none."""
    for stored in read_manifest(builder.book, entry):
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
        for stored in read_manifest(builder.book, entry)
    }


def _describe_finding(found: _TracedFinding) -> dict[str, KnownValue]:
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
    return {
        f"finding.{key}": KnownValue(text, known_by=KnownBy.READ)
        for key, text in told.items()
        if text
    }


def _list_holders(book: Book, prefix: str) -> Iterator[Entry]:
    """Yield audits whose findings hold the text: reading each finding takes longer by far."""
    wanted = f'"{prefix}'.encode()
    for entry in book.entries(Kind.AUDIT):
        if entry.values.get("findings") and wanted in book.blob(str(entry.values["findings"])):
            yield entry
