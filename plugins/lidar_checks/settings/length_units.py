"""Are lever arm and base height lengths that can be, in metres."""

from __future__ import annotations

from decimal import Decimal

from pydantic import Field

from ledger.contract.check import Criteria, Plan
from lidar_checks.header.file_check import require_criteria
from lidar_checks.settings.settings_check import SettingsCheck, keep_exact
from lidar_checks.settings.topics import list_catalogue, list_record_fields, list_specification_keys


class LengthCriteria(Criteria):
    """Bounds beyond which a length was probably typed in another unit."""

    arm_max_m: float = Field(
        default=1.5,
        gt=0,
        description="common practice, no source: each part of a lever arm under a small drone",
    )
    base_height_min_m: float = Field(
        default=0.05, description="common practice, no source: a base on a tripod"
    )
    base_height_max_m: float = Field(
        default=3.0, description="common practice, no source: a base on a tripod"
    )


class LengthUnits(SettingsCheck):
    """No length is off by a factor of units."""

    id = "length-units"
    title = "Lever arm and base height have lengths that can be"
    catalogue = list_catalogue("length-units")
    fields = list_record_fields("length-units")
    specification_keys = list_specification_keys("length-units")
    revision = 1
    criteria = LengthCriteria

    def find_limits(self, plan: Plan) -> dict[str, Decimal]:
        """Return the criteria as exact numbers."""
        criteria = require_criteria(plan, LengthCriteria)
        return keep_exact(
            arm_max_m=criteria.arm_max_m,
            base_height_min_m=criteria.base_height_min_m,
            base_height_max_m=criteria.base_height_max_m,
        )
