"""Is the lever arm of the processing the one that was measured, in the same axes."""

from __future__ import annotations

from decimal import Decimal

from pydantic import Field

from ledger.contract.check import Criteria, Plan
from lidar_checks.settings.settings_check import SettingsCheck
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

    def find_tolerance(self, plan: Plan) -> Decimal:
        """Return how far a lever arm may be off along each axis, metres."""
        criteria = plan.criteria
        if not isinstance(criteria, LeverArmCriteria):
            return super().find_tolerance(plan)
        return Decimal(repr(criteria.tolerance_m))
