"""Raw files and evidence about them, made by hand for checks of the records."""

from __future__ import annotations

import hashlib
from typing import Any

from ledger.contract.check import Check, Finding, Grade, Outcome
from ledger.contract.evidence import Evidence
from ledger.model.artefact import FileRecord
from ledger.model.jobrecords import JobRecords, RawFile
from ledger.model.known import KnownValue
from ledger.model.process import Card
from ledger.testing import drive_check, make_evidence

NOW = "2026-05-20T12:00:00Z"


def make_raw(path: str, role: str = "capture", flight: str = "F1", **parts: Any) -> RawFile:
    """Return a registered file of ten bytes, read a day ago, with two good copies."""
    facts = parts.pop("facts", {})
    size = parts.pop("bytes", 10)
    digest = parts.pop("sha256", hashlib.sha256(path.encode()).hexdigest())
    file = FileRecord(path, digest, size, 1, role, facts)
    given = {
        "entry": 2,
        "time": "2026-05-14T09:00:00Z",
        "copies": 2,
        "last_read": "2026-05-19T12:00:00Z",
        **parts,
    }
    return RawFile(file, flight, **given)


def make_flight(name: str = "F1", **values: object) -> Card:
    """Return a flight with typed values, by the part of their keys after the kind."""
    known = {f"flight.{key}": KnownValue(value) for key, value in values.items()}
    return Card(name, "", 3, "2026-05-14T10:00:00Z", "technician", known)


def make_job(*raw: RawFile, **parts: Any) -> Evidence:
    """Return evidence about these raw files; parts of `JobRecords` by name, others of it."""
    names = JobRecords.__dataclass_fields__.keys() - {"rigs"}  # those that were flown are meant
    job = {key: parts.pop(key) for key in list(parts) if key in names}
    records = JobRecords(raw=tuple(raw), **{"time": NOW, **job})
    return make_evidence(*parts.pop("files", ()), job=records, **parts)


def judge(check: Check, evidence: Evidence, **criteria: Any) -> dict[str, Finding]:
    """Return the findings of a check by subject."""
    found = drive_check(check, evidence, criteria=criteria or None)
    assert len({finding.subject for finding in found}) == len(found), found
    return {finding.subject: finding for finding in found}


def grade(finding: Finding) -> Grade | Outcome:
    """Return the grade of a nonconformity, else the outcome."""
    return finding.grade or finding.outcome
