"""What runs used was registered in this job, or made in it.

A project of another job that was opened by mistake gives a run on files that this job never saw.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from ledger.contract.check import Check, Evidence, Finding, Grade, Plan, Where
from ledger.model.artefact import Role
from ledger.model.process import Input, Process
from ledger.model.typed import quote_path
from lidar_checks.lineage.process_check import tell_no_process

_SOURCE = "common practice, no source"
# What a run is made from; a photo of its settings or a configuration is not.
_JUDGED = frozenset(
    {Role.CAPTURE, Role.POINTS, Role.BASE_LOG, Role.FLIGHT_LOG, Role.TRAJECTORY, ""}
)


class RunInputs(Check):
    """Looks up each file that a run or step behind the delivery used."""

    id = "run-inputs"
    title = "Runs used files of this job"
    catalogue = ("PS-08",)
    needs = ("records",)

    def finish(
        self,
        plan: Plan,  # noqa: ARG002 - part of the contract
        summaries: Mapping[str, Any],  # noqa: ARG002 - part of the contract
        evidence: Evidence,
    ) -> Iterable[Finding]:
        """Judge every run and step behind the delivery."""
        if not evidence.processes:
            yield tell_no_process(self)
        made = {output.file.sha256 for process in evidence.processes for output in process.outputs}
        known = made | evidence.job.own_digests
        for process in evidence.processes:
            strange = [used for used in process.inputs if _is_strange(used, known)]
            for used in strange:
                yield self._tell_strange(process, used, evidence)
            if not strange:
                yield self._tell_known(process)

    def _tell_strange(self, process: Process, used: Input, evidence: Evidence) -> Finding:
        others = evidence.job.inputs_elsewhere.get(used.sha256, ())
        name = f"{process.kind} {process.id}"
        parts: dict[str, Any] = {
            "required": "files of this job",
            "criterion_source": _SOURCE,
            "where": Where(file=used.path),
        }
        if others:
            return self.nonconforming(
                Grade.MAJOR,
                process.id,
                f"{name} used {used.path}, which is not registered in this job and belongs to job "
                f"{others[0].job}.",
                observed=f"{used.path} of job {others[0].job}",
                remedy=f"Repeat {process.id} on the files of this job; the other one is "
                f"{others[0].folder}",
                **parts,
            )
        return self.nonconforming(
            Grade.MINOR,
            process.id,
            f"{name} used {used.path}, which is not registered in this job.",
            observed=f"{used.path}, not registered",
            remedy="If it is a file of this job, register it (swathbook register "
            f"{quote_path(used.path)}); if not, repeat {process.id} on the right one",
            **parts,
        )

    def _tell_known(self, process: Process) -> Finding:
        name = f"{process.kind} {process.id}"
        if not process.inputs:
            return self.inconclusive(
                process.id,
                f"What {name} used is not on record.",
                remedy="Record the next one with what it was made from (--input F1)",
            )
        if all(used.assumed for used in process.inputs):
            return self.inconclusive(
                process.id, f"Nobody said what {name} used: the only flight was taken for it."
            )
        return self.conforms(process.id, f"All that {name} used belongs to this job.")


def _is_strange(used: Input, known: Iterable[str]) -> bool:
    return bool(used.sha256) and used.role in _JUDGED and used.sha256 not in known
