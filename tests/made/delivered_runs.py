"""Runs and the files that they made, for checks of the records behind a delivery."""

from __future__ import annotations

from typing import Any

from ledger.contract.check import Check, DeliveredFile, Finding
from ledger.model.artefact import FileRecord, Output
from ledger.model.lineage import Custody, CustodyState, Line, MatchedBy
from ledger.model.process import Decision, Process
from ledger.testing import drive_check, make_evidence, make_file

# 14 May 2026, 12:00 UTC, in nanoseconds since 1970.
NOON_NS = 1_778_760_000 * 10**9


def make_process(
    name: str, decision: Decision, *outputs: str, hours: float = 1.0, **parts: Any
) -> Process:
    """Return a run or step whose files were written `hours` before it was recorded at noon."""
    made = [
        Output(FileRecord(path, "0" * 64, 1, NOON_NS - int(hours * 3600 * 10**9), "points"))
        for path in outputs
    ]
    return Process(
        id=name,
        kind="run" if name.startswith("R") else "step",
        name="",
        entry=int(name[1:]),
        time="2026-05-14T12:00:00Z",
        by="technician",
        decision=decision,
        decision_entry=int(name[1:]),
        decision_time="2026-05-14T12:30:00Z",
        outputs=tuple(made),
        **{"reason": "", **parts},
    )


def deliver(path: str, *line: Process, **parts: Any) -> DeliveredFile:
    """Return a delivered file with one line of ancestry, nearest process first."""
    states = {process.decision for process in line}
    if not line:
        state = CustodyState.ORPHAN
    elif states & {Decision.REJECTED, Decision.SUPERSEDED}:
        state = CustodyState.STALE
    elif Decision.UNDECIDED in states:
        state = CustodyState.UNDECIDED
    else:
        state = CustodyState.ACCEPTED
    custody = Custody(
        state,
        parts.pop("matched_by", MatchedBy.DIGEST if line else MatchedBy.NOTHING),
        (Line(line),) if line else (),
        parts.pop("recorded_path", ""),
    )
    return make_file(path, custody=custody, **parts)


def judge(check: Check, *files: DeliveredFile, **parts: Any) -> dict[str, Finding]:
    """Return the findings of a check by subject."""
    processes = {
        process.id: process
        for file in files
        if file.custody
        for line in file.custody.lines
        for process in line.processes
    }
    given = {"processes": tuple(processes.values()), "folder": "deliver", **parts}
    return {
        finding.subject: finding for finding in drive_check(check, make_evidence(*files, **given))
    }


R1 = make_process("R1", Decision.REJECTED, "out/R1/tile_14.las", reason="heights are ellipsoidal")
R2 = make_process("R2", Decision.ACCEPTED, "out/R2/tile_13.las", "out/R2/tile_14.las")
R3 = make_process("R3", Decision.UNDECIDED, "out/R3/tile_15.las")
S4 = make_process("S4", Decision.ACCEPTED, "out/clean/tile_14.las")
