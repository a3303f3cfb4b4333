"""A check that only hands out the residuals, for tests of what stands behind the ground checks."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

from ledger.contract.check import Finding, Plan
from ledger.contract.evidence import Evidence
from ledger.model.audit import WHOLE_DELIVERY
from ledger.model.surveypoints import PointTable
from ledger.testing import TABLE_SPECIFICATION, SurveyBuilder, run_check
from lidar_checks.ground.residuals import GroundCheck, Residual, list_residuals


class Probe(GroundCheck):
    """Keeps the residuals for the test, which a check must not do."""

    id = "ground-probe"
    title = "Residuals as they are"

    def __init__(self) -> None:
        """Start without any."""
        self.seen: tuple[Residual, ...] = ()

    def finish(
        self,
        plan: Plan,
        summaries: Mapping[str, Any],
        evidence: Evidence,
    ) -> Iterable[Finding]:
        """Keep what there is."""
        self.seen = list_residuals(plan, summaries)
        yield self.conforms(WHOLE_DELIVERY, "Seen.")


def find_residuals(
    survey: SurveyBuilder | Path,
    *tables: PointTable,
    specification: str = TABLE_SPECIFICATION,
) -> dict[str, Residual]:
    """Return the residuals of an audit, by id of the surveyed point."""
    probe = Probe()
    run_check(probe, survey, specification, tables=tables)
    return {each.id: each for each in probe.seen}
