"""What the checks of runs and steps do alike: one after another, and none at all is no pass."""

from __future__ import annotations

from abc import abstractmethod
from collections.abc import Iterable, Mapping
from typing import Any

from ledger.contract.check import Check, Evidence, Finding, Plan
from ledger.model.audit import WHOLE_DELIVERY
from ledger.model.process import Process


class ProcessCheck(Check):
    """A check that judges each run and step behind the delivery by itself."""

    def finish(
        self,
        plan: Plan,
        summaries: Mapping[str, Any],  # noqa: ARG002 - part of the contract
        evidence: Evidence,
    ) -> Iterable[Finding]:
        """Judge every run and step in turn."""
        if not evidence.processes:
            yield tell_no_process(self)
        for process in evidence.processes:
            yield self.judge(process, plan, evidence)

    @abstractmethod
    def judge(self, process: Process, plan: Plan, evidence: Evidence) -> Finding:
        """Return the finding about a run or step."""


def tell_no_process(check: Check) -> Finding:
    """Return the finding where nothing on record made any of the files."""
    return check.not_assessed(
        WHOLE_DELIVERY, "No recorded run or step made any of the files.", needs=("records",)
    )
