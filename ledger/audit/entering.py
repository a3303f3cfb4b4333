"""Entering an audit into the book."""

from __future__ import annotations

import time
from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from ledger.audit.delivery import ReadFile
from ledger.audit.folder import DOCUMENT
from ledger.audit.manifest import Manifest, make_manifest
from ledger.audit.request import Request
from ledger.auditentry import (
    read_acceptances,
    write_check,
    write_figure,
    write_finding,
    write_profile,
    write_raster,
    write_rows,
)
from ledger.canonical import compute_digest, encode
from ledger.contract.evidence import Evidence
from ledger.contract.passing import PassResult
from ledger.dataclass import dataclass
from ledger.model.acceptance import Acceptance
from ledger.model.audit import AuditResult, count_conforming
from ledger.model.blanks import Blank
from ledger.model.entry import Draft, Entry, Kind
from ledger.model.figure import Figure
from ledger.model.finding import Finding, Grade
from ledger.model.lineage import CustodyState
from ledger.model.raster import Raster
from ledger.model.verdict import Verdict, compute_verdict
from ledger.specentry import enter_content
from ledger.store.mapping import fingerprint_to_values
from ledger.store.writing import BookWriter

_PREFIX = "D"


@dataclass(frozen=True)
class Audited:
    """What an audit found out, before it is entered.

    Args:
        files: the files as read, sorted by path.
        evidence: the evidence at the end.
        findings: every finding, worst first.
        readings: what reading points gave, by path; empty in a quick audit.
        blanks: what was left blank.
        rasters: maps that the checks drew.
        figures: numbers that the checks told.
    """

    files: tuple[ReadFile, ...]
    evidence: Evidence
    findings: tuple[Finding, ...]
    readings: Mapping[str, PassResult]
    blanks: tuple[Blank, ...]
    rasters: tuple[Raster, ...] = ()
    figures: tuple[Figure, ...] = ()


def enter_audit(request: Request, audited: Audited, started: float) -> AuditResult:
    """Enter an audit and return its result.

    Args:
        request: what was asked for.
        audited: what was found out.
        started: reading of the monotonic clock at its beginning, seconds.

    Raises:
        BookError: the book is broken or held by another program.
    """
    manifest = make_manifest(audited.files)
    with BookWriter.open(request.job) as writer:
        wishes = enter_content(writer, request.content, request.options.by)
        accepted = _find_accepted(writer, audited.findings)
        verdict = compute_verdict(
            audited.findings,
            request.settled.required,
            accepted.keys(),
            quick=request.options.quick,
        )
        entry = _append(writer, request, audited, manifest, verdict)
    result = _make_result(request, audited, entry, wishes, accepted)
    return replace(result, seconds=time.monotonic() - started)


def _find_accepted(writer: BookWriter, findings: tuple[Finding, ...]) -> dict[str, Acceptance]:
    minor = {finding.id for finding in findings if finding.grade is Grade.MINOR}
    return {name: each for name, each in read_acceptances(writer).items() if name in minor}


def _append(
    writer: BookWriter, request: Request, audited: Audited, manifest: Manifest, verdict: Verdict
) -> Entry:
    findings = encode([write_finding(finding) for finding in audited.findings])
    maps = [raster.content for raster in audited.rasters]
    blobs = [manifest.content, manifest.seen, findings, *maps]
    values = {
        **_make_values(request, audited, manifest),
        "verdict": str(verdict),
        "findings": compute_digest(findings),
    }
    if request.settled.profile_content:
        blobs.append(request.settled.profile_content)
    if not request.options.quick:
        fingerprints = encode(_list_fingerprints(audited))
        blobs.append(fingerprints)
        values["fingerprints"] = compute_digest(fingerprints)
    known = _find_id(writer, manifest.sha256)
    if known:
        values["id"] = known
    draft = Draft(Kind.AUDIT, values, by=request.options.by)
    return writer.append(draft, blobs, id_prefix="" if known else _PREFIX)


def _find_id(writer: BookWriter, manifest_sha256: str) -> str:
    """Return the id that the same bytes had in an earlier audit; empty for none."""
    same = (
        str(entry.values["id"])
        for entry in writer.entries(Kind.AUDIT)
        if entry.values["manifest_sha256"] == manifest_sha256
    )
    return next(same, "")


def _make_values(request: Request, audited: Audited, manifest: Manifest) -> dict[str, Any]:
    settled, options = request.settled, request.options
    checkpoints = request.checkpoints
    running = [facts for facts in settled.facts if not facts.switched_off]
    return {
        "folder": request.book_folder,
        "folder_bytes": request.folder_bytes,
        "manifest": manifest.sha256,
        "manifest_sha256": manifest.sha256,
        "manifest_root": manifest.root,
        "seen": compute_digest(manifest.seen),
        "specification": compute_digest(request.content),
        "profile": write_profile(settled.profile),
        "boundary": _write_boundary(audited.evidence),
        "quick": options.quick,
        "checks": [write_check(facts) for facts in running],
        "required": sorted(settled.required),
        "conforming": count_conforming(audited.findings),
        "blanks": write_rows(audited.blanks),
        "points": _count_points(audited),
        "switched_off": {f.id: f.switched_off for f in settled.facts if f.switched_off},
        "read_by_no_check": list(request.unread),
        "rasters": [write_raster(raster) for raster in audited.rasters],
        "figures": [write_figure(figure) for figure in audited.figures],
        "plugin_faults": write_rows(request.faults),
        "checkpoints": None
        if checkpoints is None
        else {"path": checkpoints.path, "sha256": checkpoints.sha256},
        "tables": [
            {"path": each.path, "sha256": each.sha256, "kind": each.kind, "fault": each.fault}
            for each in audited.evidence.tables
        ],
    }


def _write_boundary(evidence: Evidence) -> dict[str, str] | None:
    boundary = evidence.boundary
    return None if boundary is None else {"path": boundary.path, "sha256": boundary.sha256}


def _count_points(audited: Audited) -> int | None:
    if audited.evidence.quick:
        return None
    return sum(reading.facts.decoded for reading in audited.readings.values())


def _list_fingerprints(audited: Audited) -> dict[str, Any]:
    digests = {file.path: file.sha256 for file in audited.evidence.files}
    return {
        digests[path]: fingerprint_to_values(reading.fingerprint)
        for path, reading in audited.readings.items()
        if reading.fingerprint is not None
    }


def _make_result(
    request: Request,
    audited: Audited,
    entry: Entry,
    wishes: Entry,
    accepted: Mapping[str, Acceptance],
) -> AuditResult:
    return AuditResult(
        entry=entry.seq,
        id=str(entry.values["id"]),
        folder=request.book_folder,
        verdict=Verdict(entry.values["verdict"]),
        quick=request.options.quick,
        manifest_sha256=str(entry.values["manifest_sha256"]),
        manifest_root=str(entry.values["manifest_root"]),
        specification=str(entry.values["specification"]),
        specification_entry=wishes.seq,
        specification_by=wishes.by,
        files=len(audited.files),
        bytes=sum(each.file.bytes for each in audited.files),
        points=_count_points(audited),
        seconds=0.0,
        known_digests=sum(each.known for each in audited.files),
        findings=audited.findings,
        accepted=accepted,
        checks=request.settled.facts,
        blanks=audited.blanks,
        unread=request.unread,
        rasters=audited.rasters,
        figures=audited.figures,
        plugin_faults=request.faults,
        profile=request.settled.profile,
        not_traced=tuple(
            file.path
            for file in audited.evidence.files
            if file.kind == DOCUMENT
            and file.custody is not None
            and file.custody.state is CustodyState.NOT_TRACED
        ),
    )
