"""Are lengths on the grid or on the ground, as the job asks."""

from __future__ import annotations

from decimal import Decimal

from pydantic import Field

from ledger.contract.check import Criteria, Plan
from ledger.contract.evidence import Evidence
from lidar_checks.header.file_check import require_criteria
from lidar_checks.settings.chain import Chain, find_position_chains
from lidar_checks.settings.settings_check import SettingsCheck, keep_exact
from lidar_checks.settings.topics import list_catalogue, list_record_fields, list_specification_keys


class ScaleCriteria(Criteria):
    """How far two factors may be apart that count as one."""

    factor_apart_max_ppm: float = Field(
        default=1.0,
        ge=0,
        description="common practice, no source: a millimetre in a kilometre",
    )


class ScaleBasis(SettingsCheck):
    """Lengths have the scale that the job asks for."""

    id = "scale-basis"
    title = "Lengths are on the grid or on the ground, as the job asks"
    catalogue = list_catalogue("scale-basis")
    fields = (*list_record_fields("scale-basis"), "step.kind")
    specification_keys = list_specification_keys("scale-basis")
    revision = 1
    criteria = ScaleCriteria

    def find_chains(self, evidence: Evidence) -> tuple[Chain, ...]:
        """Return the processes that settled where the delivery lies."""
        return find_position_chains(evidence)

    def find_limits(self, plan: Plan) -> dict[str, Decimal]:
        """Return the criteria as exact numbers."""
        criteria = require_criteria(plan, ScaleCriteria)
        return keep_exact(factor_apart_max_ppm=criteria.factor_apart_max_ppm)
