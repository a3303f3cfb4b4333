"""Did the base stand on a known position, and does its log have the height that was read."""

from __future__ import annotations

from decimal import Decimal

from pydantic import Field

from ledger.contract.check import Criteria, Plan
from lidar_checks.header.file_check import require_criteria
from lidar_checks.settings.settings_check import SettingsCheck, keep_exact
from lidar_checks.settings.topics import list_catalogue, list_record_fields, list_specification_keys


class BaseChainCriteria(Criteria):
    """How far the height in the log may be from the one that was read."""

    log_apart_max_m: float = Field(
        default=0.002,
        ge=0,
        description="common practice, no source, for the field ANTENNA: DELTA H/E/N of RINEX",
    )


class BaseChain(SettingsCheck):
    """Card and log of the base agree, and its position is known."""

    id = "base-chain"
    title = "The base stood on a known position, at the height that its log has"
    catalogue = list_catalogue("base-chain")
    fields = list_record_fields("base-chain")
    specification_keys = list_specification_keys("base-chain")
    revision = 1
    criteria = BaseChainCriteria

    def find_limits(self, plan: Plan) -> dict[str, Decimal]:
        """Return the criteria as exact numbers."""
        criteria = require_criteria(plan, BaseChainCriteria)
        return keep_exact(log_apart_max_m=criteria.log_apart_max_m)
