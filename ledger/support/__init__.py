"""A bundle for whoever helps: settings, versions, headers and findings, without names and places.

Its digest is entered into the book. Whoever has the book can show later that a bundle came from it,
and whoever has the bundle sees from its proof that some sealed book has that entry, not which job.
"""

from __future__ import annotations

import io
import json
import zipfile
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from ledger.auditentry import StoredAudit, read_latest_audits
from ledger.canonical import compute_digest
from ledger.dataclass import dataclass
from ledger.merkle import compute_inclusion_proof
from ledger.model.entry import Draft, Entry, Kind
from ledger.model.finding import Finding, Outcome
from ledger.model.process import Card, Process
from ledger.outgoing import require_new
from ledger.store.reading import Book
from ledger.store.writing import BookWriter
from ledger.support.private import list_private
from ledger.support.redaction import Redactor
from ledger.wholefile import write_whole

NAME = "support-bundle.zip"
_CONTENT, _PROOF, _NOTE = "bundle.json", "proof.json", "read-me.txt"
_NOT_SAID = "not said"
_EPOCH = (1980, 1, 1, 0, 0, 0)  # the earliest time of a ZIP archive: when it was made is no matter
_WORDS = """What a job says, for whoever is asked about it.

bundle.json  settings, versions, headers and findings. Names of files, persons' functions, serials,
             marks and free texts are replaced; plan coordinates are moved by a secret distance,
             longitudes and latitudes left out; heights are as they are.
proof.json   the entry of the job's book that holds the SHA-256 of bundle.json, with the proof
             (RFC 9162 section 2.1.3) that it stands under the root given there.

Look through bundle.json before you send it: whether something in it tells too much is for the
person who sends it to say.
"""


@dataclass(frozen=True)
class SupportResult:
    """What was made.

    Args:
        file: the archive.
        entry: entry that holds the digest of its content.
        sha256: that digest.
        counts: how many runs and steps, flights, rigs, files and findings are told.
        root: root of the book after that entry, 32 bytes.
    """

    file: Path
    entry: int
    sha256: str
    counts: dict[str, int]
    root: bytes


def make_bundle(job: Path, target: Path | None = None) -> SupportResult:
    """Write a bundle for support and enter its digest.

    Args:
        job: the job folder, or its book.
        target: the archive to write; `support-bundle.zip` in the job folder when None.

    Raises:
        BookError: the book cannot be used.
        UsageError: the archive would lie among raw or delivered files, or over another file.
        UnwritableFileError: the archive cannot be written.
    """
    if target is not None:
        with Book.open(job) as book:
            require_new(book, target)
    with BookWriter.open(job) as writer:
        # Its entry goes out with it, as a proof, so that it does not say who made it.
        told = _tell(writer, Redactor(list_private(writer)))
        content = json.dumps(told, indent=1, ensure_ascii=False, sort_keys=True).encode()
        digest = compute_digest(content)
        entry = writer.append(Draft(Kind.SUPPORT, {"sha256": digest}, by=_NOT_SAID))
        proof = _prove(writer, entry)
        place = target or writer.folder / NAME
    write_whole(place, _pack({_CONTENT: content, _PROOF: proof, _NOTE: _WORDS.encode()}))
    counts = {key: len(part) for key, part in told.items() if isinstance(part, list)}
    return SupportResult(place, entry.seq, digest, counts, entry.root)


def _tell(book: Book, redactor: Redactor) -> dict[str, Any]:
    processes = book.processes()
    audits = read_latest_audits(book)
    return {
        "kind": "swathbook-support",
        "schema": 1,
        "processes": [_tell_process(each, redactor) for each in processes],
        "flights": [_tell_card(card, redactor) for card in book.cards("flight")],
        "rigs": [_tell_card(card, redactor) for card in book.cards("rig")],
        "headers": [row for each in processes for row in _list_headers(each, redactor)],
        "audits": [_tell_audit(audit, redactor) for audit in audits],
    }


def _tell_process(process: Process, redactor: Redactor) -> dict[str, Any]:
    return {
        "id": process.id,
        "kind": process.kind,
        "decision": str(process.decision),
        "entered": process.time,
        "inputs": [used.flight or redactor.file(used.path) for used in process.inputs],
        "outputs": len(process.outputs),
        "values": redactor.values(process.values),
    }


def _tell_card(card: Card, redactor: Redactor) -> dict[str, Any]:
    return {"id": card.id, "entered": card.time, "values": redactor.values(card.values)}


def _list_headers(process: Process, redactor: Redactor) -> Iterator[dict[str, Any]]:
    for output in process.outputs:
        yield {
            "of": process.id,
            "file": redactor.file(output.file.path),
            "bytes": output.file.bytes,
            "facts": redactor.facts(output.file.facts),
        }


def _tell_audit(audit: StoredAudit, redactor: Redactor) -> dict[str, Any]:
    checks = audit.entry.values.get("checks") or ()
    return {
        "id": str(audit.entry.values["id"]),
        "entered": audit.entry.time,
        "verdict": str(audit.entry.values["verdict"]),
        "quick": audit.is_quick,
        "plugins": sorted({f"{each['plugin']} {each['version']}" for each in checks}),
        "checks": [_tell_check(each, redactor) for each in checks],
        "findings": [
            _tell_finding(each.finding, redactor)
            for each in audit.findings
            if each.finding.outcome is not Outcome.CONFORMS
        ],
    }


def _tell_check(check: Mapping[str, Any], redactor: Redactor) -> dict[str, Any]:
    """Return a check with its criteria; what somebody typed for one may name the site."""
    criteria = {
        name: {**row, "value": redactor.criterion(row.get("value"))}
        for name, row in (check["criteria"] or {}).items()
    }
    return {"id": check["id"], "revision": check["revision"], "criteria": criteria}


def _tell_finding(finding: Finding, redactor: Redactor) -> dict[str, Any]:
    """Return a finding without its sentence, which names files and places."""
    where = finding.where
    told: dict[str, Any] = {
        "check": finding.check,
        "catalogue": list(finding.catalogue),
        "outcome": str(finding.outcome),
        "grade": None if finding.grade is None else str(finding.grade),
        "unit": finding.unit,
        "required": finding.required if finding.unit else "",
        "observed": finding.observed if finding.unit else "",
    }
    if where.file:
        told["file"] = redactor.file(where.file)
    if where.xy is not None:
        told["xy"] = redactor.place([str(number) for number in where.xy])
    return told


def _prove(book: Book, entry: Entry) -> bytes:
    proof = compute_inclusion_proof(entry.seq - 1, entry.seq, book.node)
    told = {
        "index": entry.seq - 1,
        "size": entry.seq,
        "root": entry.root.hex(),
        "body": book.body(entry.seq).decode(),
        "proof": [part.hex() for part in proof],
    }
    return json.dumps(told, indent=1, ensure_ascii=False).encode()


def _pack(files: dict[str, bytes]) -> bytes:
    target = io.BytesIO()
    with zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in files.items():
            archive.writestr(zipfile.ZipInfo(name, _EPOCH), content, zipfile.ZIP_DEFLATED)
    return target.getvalue()
