"""Files that an earlier audit passed, and that are others now: somebody may still use those.

An audit that ended *do not send* was no delivery. Which of the others were sent is not on record,
so that this is only told.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from ledger.contract.check import Check, Evidence, Finding, Grade, Plan
from ledger.model.audit import WHOLE_DELIVERY
from ledger.model.jobrecords import PastAudit
from ledger.model.lineage import describe_day
from ledger.model.phrases import agree, count_things
from ledger.model.verdict import Verdict

_SOURCE = "common practice, no source"
_PASSED = (Verdict.FIT_TO_SEND, Verdict.ACCEPTANCE_NEEDED)
_NAMED = 4


class ReplacedDelivery(Check):
    """Holds the files against those of the same names in earlier audits."""

    id = "replaced-delivery"
    title = "No file took the place of one that was audited and may have been sent"
    catalogue = ("RH-01", "RH-05")

    def finish(
        self,
        plan: Plan,  # noqa: ARG002 - part of the contract
        summaries: Mapping[str, Any],  # noqa: ARG002 - part of the contract
        evidence: Evidence,
    ) -> Iterable[Finding]:
        """Judge the folder against every audit that passed."""
        traced = {file.path: file.sha256 for file in evidence.files if file.kind != "document"}
        if not traced:
            yield self.inconclusive(
                WHOLE_DELIVERY, "The folder holds no point or raster file to compare."
            )
            return
        told = False
        for audit in evidence.job.audits:
            changed = [
                path
                for path, sha256 in traced.items()
                if sha256 and audit.files.get(path) not in (None, "", sha256)
            ]
            if changed and audit.verdict in _PASSED:
                told = True
                yield self._tell_changed(audit, changed, evidence)
        if not told:
            yield self.conforms(
                WHOLE_DELIVERY, "No file differs from one of its name that an audit passed before."
            )

    def _tell_changed(self, audit: PastAudit, changed: list[str], evidence: Evidence) -> Finding:
        some = ", ".join(changed[:_NAMED])
        more = f" and {len(changed) - _NAMED} more" if len(changed) > _NAMED else ""
        here = audit.folder == evidence.folder
        day = describe_day(audit.time)
        are = agree(len(changed), "is", "are")
        return self.nonconforming(
            Grade.OBSERVATION,
            audit.id,
            f"{count_things(len(changed), 'file')} {are} not what was audited on {day} as "
            f"{audit.id} in {audit.folder} ({audit.verdict}): {some}{more}.",
            observed=str(len(changed)),
            required="0",
            unit="files",
            criterion_source=_SOURCE,
            remedy=f"If {audit.id} was sent, tell everybody who has it that this replaces it; if "
            "not, all is well",
            catalogue=("RH-01", "RH-05") if here else ("RH-05",),
        )
