"""Results of audits, made without one."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from ledger.model.audit import AuditResult
from ledger.model.finding import Finding
from ledger.model.verdict import Verdict

DIGEST = "0123456789abcdef" * 4


def make_result(*findings: Finding, **parts: Any) -> AuditResult:
    """Return an audit with these findings, and whatever else of an audit is given."""
    result = AuditResult(
        entry=9,
        id="D1",
        folder="deliver",
        verdict=Verdict.ACCEPTANCE_NEEDED,
        quick=False,
        manifest_sha256=DIGEST,
        manifest_root=DIGEST,
        specification=DIGEST,
        specification_entry=2,
        specification_by="",
        known_digests=0,
        files=len(findings),
        bytes=1_000_000,
        points=1_000,
        seconds=1.0,
        findings=findings,
    )
    return replace(result, **parts)
