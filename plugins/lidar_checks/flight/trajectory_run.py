"""A trajectory that is delivered comes from the run that made the points beside it.

A second run makes a second path; beside the points of another run it lies off the swaths, by little
enough to pass at a glance.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from ledger.contract.check import Check, DeliveredFile, Evidence, Finding, Grade, Plan, Where
from ledger.model.artefact import Role
from ledger.model.audit import WHOLE_DELIVERY
from ledger.model.process import Process


class TrajectoryRun(Check):
    """Compares which run wrote a delivered trajectory with which made the points."""

    id = "trajectory-run"
    title = "A delivered trajectory is of the run that made the points"
    catalogue = ("SL-07",)
    needs = ("records",)

    def finish(
        self,
        plan: Plan,  # noqa: ARG002 - part of the contract
        summaries: Mapping[str, Any],  # noqa: ARG002 - part of the contract
        evidence: Evidence,
    ) -> Iterable[Finding]:
        """Judge every delivered trajectory."""
        delivered = [
            (file, runs) for file in evidence.files if (runs := _list_makers(file, evidence))
        ]
        if not delivered:
            yield self.not_assessed(
                WHOLE_DELIVERY,
                "No trajectory that a run wrote is among the files.",
                needs=("trajectory: one that is delivered",),
            )
        behind = _list_runs_of_points(evidence)
        for file, runs in delivered:
            yield self._judge(file, runs, behind)

    def _judge(self, file: DeliveredFile, runs: list[str], behind: frozenset[str]) -> Finding:
        made, points = " or ".join(runs), ", ".join(sorted(behind))
        where = Where(file=file.path)
        if not behind:
            return self.not_assessed(
                file.path,
                f"{file.path} was written by {made}; what made the points is not on record.",
                needs=("records: the run that made the points",),
                where=where,
            )
        if not behind & set(runs):
            return self.nonconforming(
                Grade.MAJOR,
                file.path,
                f"{file.path} was written by {made}, the points beside it were made by {points}: "
                "it is the path of another run.",
                observed=made,
                required=points,
                criterion_source="the records of the job",
                remedy=f"Deliver the trajectory that {points} wrote, or none",
                where=where,
            )
        return self.conforms(
            file.path,
            f"{file.path} was written by {made}, which made the points.",
            where=where,
        )


def _list_makers(file: DeliveredFile, evidence: Evidence) -> list[str]:
    """Return the runs that wrote a file as a trajectory."""
    return [
        process.id
        for process in evidence.processes
        for output in process.outputs
        if output.file.sha256 == file.sha256 and output.file.role == Role.TRAJECTORY
    ]


def _list_runs_of_points(evidence: Evidence) -> frozenset[str]:
    def find_runs(processes: Iterable[Process]) -> Iterable[str]:
        return (each.id for each in processes if each.kind == "run")

    return frozenset(
        name
        for file in evidence.point_files
        if file.custody is not None
        for line in file.custody.lines
        for name in find_runs(line.processes)
    )
