"""Points that went in are points that came out and points that were removed for a reason.

Counted are the points of files, as they were read when the files were recorded. A step that only
thins has its reason in its kind. Files of a run that are neither delivered nor used further on are
told, since a tile may have been forgotten.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from pathlib import PurePosixPath
from typing import Any

from ledger.contract.check import Check, Evidence, Finding, Grade, Plan
from ledger.model.audit import WHOLE_DELIVERY
from ledger.model.phrases import agree, count_things
from ledger.model.process import Decision, Process, find_later, is_source
from lidar_checks.lineage.process_check import tell_no_process
from lidar_checks.lineage.removed import read_removed

_SOURCE = "common practice, no source"
_REMOVED = "step.removed"
_NAMED = 4


class PointBalance(Check):
    """Adds up the points of every step, and looks for outputs that nothing took further."""

    id = "point-balance"
    title = "No point disappeared without a reason on record"
    catalogue = ("CL-06",)
    needs = ("records",)
    fields = (_REMOVED,)

    def finish(
        self,
        plan: Plan,  # noqa: ARG002 - part of the contract
        summaries: Mapping[str, Any],  # noqa: ARG002 - part of the contract
        evidence: Evidence,
    ) -> Iterable[Finding]:
        """Judge every run and step behind the delivery."""
        if not evidence.processes:
            yield tell_no_process(self)
        counted = {
            output.file.sha256: output.points
            for process in evidence.processes
            for output in process.outputs
        }
        later = find_later(evidence.processes)
        for process in evidence.processes:
            yield from self._tell_left_behind(process, evidence)
            if process.id in later and _makes_points(process):
                yield self._judge(process, counted)
        if evidence.processes and not any(
            process.id in later and _makes_points(process) for process in evidence.processes
        ):
            yield self.conforms(
                WHOLE_DELIVERY, "No step stands between the runs and the delivered files."
            )

    def _judge(self, process: Process, counted: Mapping[str, int | None]) -> Finding:
        name = f"{process.kind} {process.id}"
        used = {each.sha256 for each in process.inputs if each.sha256 and is_source(each)}
        given = [counted.get(sha256) for sha256 in sorted(used)]
        made = [output.points for output in process.outputs if output.file.role != "raster"]
        if None in given or None in made:
            return self.inconclusive(
                process.id,
                f"The points that went into {name} or came out of it were not all counted, so "
                "nobody can add them up.",
            )
        into, out = sum(filter(None, given)), sum(filter(None, made))
        told = process.find_value("removed")
        removed = {} if told is None else read_removed(str(told.value))
        if removed is None:
            return self.inconclusive(
                process.id,
                f"What {name} removed cannot be read as numbers with reasons: "
                f"{told and told.value}.",
                needs=(_REMOVED,),
                remedy=f"Write it as noise 1200; vehicles 310 ({_tell_command(process)})",
            )
        return self._weigh(process, into, out, removed)

    def _weigh(self, process: Process, into: int, out: int, removed: Mapping[str, int]) -> Finding:
        name, without = f"{process.kind} {process.id}", into - out - sum(removed.values())
        listed = "".join(f", {count:,} removed ({reason})" for reason, count in removed.items())
        sum_up = f"{count_things(into, 'point')} went into {name}, {out:,} came out{listed}"
        kind = process.find_value("kind")
        is_thinning = kind is not None and kind.value == "thinning" and not removed
        parts: dict[str, Any] = {
            "observed": str(without),
            "required": "0",
            "unit": "points",
            "criterion_source": _SOURCE,
        }
        if without and not (is_thinning and without > 0):
            what = "disappeared without a reason" if without > 0 else "are more than went in"
            return self.nonconforming(
                Grade.MINOR,
                process.id,
                f"{sum_up}: {abs(without):,} {what}.",
                remedy=f"Say how many were removed and why ({_tell_command(process)}), or repeat "
                f"{process.id} on what it should have used",
                **parts,
            )
        told = process.find_value("removed")
        if told is not None and not told.can_prove:
            return self.inconclusive(
                process.id, f"{sum_up}, but nobody confirmed what was removed.", **parts
            )
        thinned = " by thinning, as its kind says" if without else ""
        return self.conforms(process.id, f"{sum_up}{thinned}: none is left over.", **parts)

    def _tell_left_behind(self, process: Process, evidence: Evidence) -> Iterator[Finding]:
        """Yield the point files of a process that are not delivered and went nowhere."""
        if process.decision is not Decision.ACCEPTED:
            return
        taken = {each.sha256 for other in evidence.processes for each in other.inputs}
        paths = {file.custody.recorded_path for file in evidence.files if file.custody is not None}
        sent = {file.sha256 for file in evidence.files}
        names = {PurePosixPath(file.path).name for file in evidence.files}
        left = [
            output
            for output in process.outputs
            if output.points
            and output.file.sha256 not in taken | sent
            and output.file.path not in paths
            and PurePosixPath(output.file.path).name not in names
        ]
        if not left:
            return
        points = sum(output.points or 0 for output in left)
        some = ", ".join(output.file.path for output in left[:_NAMED])
        more = f" and {len(left) - _NAMED} more" if len(left) > _NAMED else ""
        are = agree(len(left), "is", "are")
        yield self.nonconforming(
            Grade.OBSERVATION,
            f"{process.id} left behind",
            f"{count_things(len(left), 'file')} of {process.kind} {process.id} with "
            f"{count_things(points, 'point')} {are} neither in {evidence.folder} nor "
            f"used by a step: {some}{more}.",
            observed=str(len(left)),
            required="0",
            unit="files",
            criterion_source=_SOURCE,
            remedy=f"See whether a tile was forgotten; if not, all is well (swathbook trace "
            f"{process.id})",
        )


def _makes_points(process: Process) -> bool:
    return any(output.points is not None for output in process.outputs)


def _tell_command(process: Process) -> str:
    return f'swathbook amend {process.id} --set removed="noise 1200; vehicles 310" --reason "…"'
