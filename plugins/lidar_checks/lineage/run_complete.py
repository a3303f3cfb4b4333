"""Runs came to their end: the command said so, and tiles hold as many points as last time.

A run that stopped half-way leaves files that look whole. What is on record of it: the exit status
of a command that was run through Swathbook, and the points of the same tiles in the run before.
"""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import PurePosixPath
from typing import Any

from pydantic import Field

from ledger.contract.check import Criteria, Evidence, Finding, Grade, Plan
from ledger.model.jobrecords import Precedent
from ledger.model.phrases import count_things
from ledger.model.process import Process
from lidar_checks.header.file_check import require_criteria
from lidar_checks.lineage.process_check import ProcessCheck

_SOURCE = "common practice, no source"


class RunCompleteCriteria(Criteria):
    """How many points a run may have fewer than the one before, in the tiles that both made."""

    min_share_of_former: float = Field(default=0.9, gt=0, le=1, description=_SOURCE)


class RunComplete(ProcessCheck):
    """Looks at the exit status of each run, and at its points beside those of the run before."""

    id = "run-complete"
    title = "Runs came to their end"
    catalogue = ("PS-06",)
    needs = ("records",)
    criteria = RunCompleteCriteria
    fields = ("run.exit_status", "step.exit_status")

    def judge(self, process: Process, plan: Plan, evidence: Evidence) -> Finding:
        """Look at the exit status, and at the points of the run before."""
        former = evidence.job.precedents.get(process.id, Precedent()).former
        least = require_criteria(plan, RunCompleteCriteria).min_share_of_former
        name, status = f"{process.kind} {process.id}", process.find_value("exit_status")
        if status is not None and str(status.value) != "0":
            return self.nonconforming(
                Grade.MAJOR,
                process.id,
                f"The command of {name} ended with exit status {status.value}: it says itself "
                "that it did not do all it should.",
                observed=f"exit status {status.value}",
                required="exit status 0",
                criterion_source="POSIX.1-2017, 2.8.2: exit status zero means success",
                remedy=f"Read what it printed, mend the cause, and repeat {process.id} "
                f"(swathbook trace {process.id})",
            )
        counts = _compare_counts(former, process) if former is not None else None
        if former is not None and counts is not None and counts[1] < least * counts[0]:
            before, now = counts
            return self.nonconforming(
                Grade.MINOR,
                process.id,
                f"{name} has {count_things(now, 'point')} in the files that {former.id} made too, "
                f"from the same raw data, with {before:,}: {now / before:.0%} of them (limit "
                f"{least:.0%}).",
                observed=f"{now / before:.3f}",
                required=f"{least:g}",
                criterion_source=_SOURCE,
                remedy="See whether the run was stopped or the disk was full; if points were left "
                "out on purpose, let somebody accept it with a reason",
            )
        ended = "its command ended with exit status 0" if status is not None else ""
        held = ""
        if counts is not None and former is not None:
            share = counts[1] / counts[0]
            held = f"it has {share:.0%} of the points of {former.id} in the same files"
        told = ", and ".join(part for part in (ended, held) if part)
        if held or (status is not None and status.can_prove):
            return self.conforms(process.id, f"{name}: {told}.")
        return self.inconclusive(
            process.id,
            f"Whether {name} came to its end is not on record: no exit status of a command that "
            "somebody vouches for, and no run before it on the same raw data.",
        )


def _compare_counts(former: Process, process: Process) -> tuple[int, int] | None:
    """Return the points of both in the files of one name; None where they share none with any."""
    before, now = _count_by_name(former), _count_by_name(process)
    shared = before.keys() & now.keys()
    total = sum(before[name] for name in shared)
    return (total, sum(now[name] for name in shared)) if total else None


def _count_by_name(process: Process) -> dict[str, int]:
    counts: dict[str, int] = {}
    outputs: Iterable[Any] = process.outputs
    for output in outputs:
        if output.points is not None:
            counts[PurePosixPath(output.file.path).name] = output.points
    return counts
