"""Are the coordinates in the frame that the job asks for, and is each change of frame recorded."""

from __future__ import annotations

from decimal import Decimal

from pydantic import Field

from ledger.contract.check import Criteria, Plan
from ledger.contract.evidence import Evidence
from lidar_checks.header.file_check import require_criteria
from lidar_checks.settings.chain import Chain, find_position_chains
from lidar_checks.settings.settings_check import SettingsCheck, keep_exact
from lidar_checks.settings.topics import list_catalogue, list_record_fields, list_specification_keys


class FrameCriteria(Criteria):
    """How far two epochs may be apart that count as one, and how good a change of frame is."""

    epoch_apart_max_years: float = Field(
        default=0.5,
        ge=0,
        description="common practice, no source: half a year of the fastest plates is some "
        "centimetres",
    )
    operation_accuracy_max_m: float = Field(
        default=0.25,
        gt=0,
        description="common practice, no source: a change of frame that is worse moves points "
        "further than a survey from a drone may lie off",
    )


class FrameChain(SettingsCheck):
    """Frames agree from receiver to delivery, or their changes are on record."""

    id = "frame-chain"
    title = "Frame and epoch agree from receiver to delivery"
    catalogue = list_catalogue("frame-chain")
    fields = (*list_record_fields("frame-chain"), "step.kind")
    specification_keys = list_specification_keys("frame-chain")
    revision = 4
    criteria = FrameCriteria

    def find_chains(self, evidence: Evidence) -> tuple[Chain, ...]:
        """Return the processes that settled where the delivery lies."""
        return find_position_chains(evidence)

    def find_limits(self, plan: Plan) -> dict[str, Decimal]:
        """Return the criteria as exact numbers."""
        criteria = require_criteria(plan, FrameCriteria)
        return keep_exact(
            epoch_apart_max_years=criteria.epoch_apart_max_years,
            operation_accuracy_max_m=criteria.operation_accuracy_max_m,
        )
