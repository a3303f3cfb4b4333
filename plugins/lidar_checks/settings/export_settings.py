"""Was anything thinned or rounded that the job needs."""

from __future__ import annotations

from decimal import Decimal

from pydantic import Field

from ledger.contract.check import Criteria, Plan
from ledger.contract.evidence import Evidence
from ledger.model.process import Process
from lidar_checks.header.file_check import require_criteria
from lidar_checks.settings.chain import Chain, find_capture_chains, list_behind
from lidar_checks.settings.settings_check import SettingsCheck, keep_exact
from lidar_checks.settings.topics import list_catalogue, list_record_fields, list_specification_keys


class ExportCriteria(Criteria):
    """How true the coordinates have to be."""

    accuracy_m: float | None = Field(
        default=None, gt=0, description="only the customer can say how true the points have to be"
    )


class ExportSettings(SettingsCheck):
    """Thinning and stored steps leave what the job asks for."""

    id = "export-settings"
    title = "Nothing was thinned or rounded that the job needs"
    catalogue = list_catalogue("export-settings")
    fields = (*list_record_fields("export-settings"), "step.kind")
    specification_keys = list_specification_keys("export-settings")
    revision = 1
    criteria = ExportCriteria

    def find_chains(self, evidence: Evidence) -> tuple[Chain, ...]:
        """Return the runs on raw data, and whatever thinned points later."""
        later = (
            Chain(process, files=files, delivers=False)
            for process, files in list_behind(evidence)
            if process.kind == "step" and _thins(process)
        )
        return (*find_capture_chains(evidence), *later)

    def find_limits(self, plan: Plan) -> dict[str, Decimal]:
        """Return the criteria as exact numbers."""
        criteria = require_criteria(plan, ExportCriteria)
        return keep_exact(accuracy_m=criteria.accuracy_m)


def _thins(process: Process) -> bool:
    kind = process.find_value("kind")
    named = kind is not None and kind.value == "thinning"
    return named or process.find_value("thinning") is not None
