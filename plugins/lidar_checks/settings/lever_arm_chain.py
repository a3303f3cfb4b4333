"""Is the lever arm of the processing the one that was measured, in the same axes."""

from __future__ import annotations

from decimal import Decimal

from pydantic import Field

from ledger.contract.check import Criteria, Plan
from lidar_checks.header.file_check import require_criteria
from lidar_checks.settings.settings_check import SettingsCheck, keep_exact
from lidar_checks.settings.topics import list_catalogue, list_record_fields, list_specification_keys


class LeverArmCriteria(Criteria):
    """How far the lever arm of a run may be from the measured one."""

    tolerance_m: float = Field(
        default=0.01,
        ge=0,
        description="common practice, no source: what a tape gives, along each axis",
    )


class LeverArmChain(SettingsCheck):
    """The lever arm of a run is the measured one."""

    id = "lever-arm-chain"
    title = "The lever arm is the measured one"
    catalogue = list_catalogue("lever-arm-chain")
    fields = list_record_fields("lever-arm-chain")
    specification_keys = list_specification_keys("lever-arm-chain")
    revision = 3
    criteria = LeverArmCriteria

    def find_limits(self, plan: Plan) -> dict[str, Decimal]:
        """Return the criterion as an exact number."""
        return keep_exact(tolerance_m=require_criteria(plan, LeverArmCriteria).tolerance_m)
