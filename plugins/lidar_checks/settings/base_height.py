"""Was the height of the base antenna read twice, and do the readings agree."""

from __future__ import annotations

from decimal import Decimal

from pydantic import Field

from ledger.contract.check import Criteria, Plan
from lidar_checks.header.file_check import require_criteria
from lidar_checks.settings.settings_check import SettingsCheck, keep_exact
from lidar_checks.settings.topics import list_catalogue, list_record_fields, list_specification_keys


class BaseHeightCriteria(Criteria):
    """How far two readings of one antenna height may be apart."""

    tolerance_m: float = Field(
        default=0.003,
        ge=0,
        description="common practice, no source: what a tape gives, read twice",
    )


class BaseHeight(SettingsCheck):
    """Two readings of the base antenna agree."""

    id = "base-height"
    title = "The height of the base antenna was read twice"
    catalogue = list_catalogue("base-height")
    fields = list_record_fields("base-height")
    specification_keys = list_specification_keys("base-height")
    revision = 1
    criteria = BaseHeightCriteria

    def find_limits(self, plan: Plan) -> dict[str, Decimal]:
        """Return the criterion as an exact number."""
        return keep_exact(tolerance_m=require_criteria(plan, BaseHeightCriteria).tolerance_m)
