"""Are the coordinates in the system, zone and units that the job asks for."""

from __future__ import annotations

from ledger.contract.evidence import Evidence
from lidar_checks.settings.chain import Chain, find_position_chains
from lidar_checks.settings.settings_check import SettingsCheck
from lidar_checks.settings.topics import list_catalogue, list_record_fields, list_specification_keys


class ZoneChain(SettingsCheck):
    """System, zone and units agree from run to delivery."""

    id = "zone-chain"
    title = "Zone, system and unit agree from processing to delivery"
    catalogue = list_catalogue("zone-chain")
    fields = (*list_record_fields("zone-chain"), "step.kind")
    specification_keys = list_specification_keys("zone-chain")
    revision = 1

    def find_chains(self, evidence: Evidence) -> tuple[Chain, ...]:
        """Return the processes that settled where the delivery lies."""
        return find_position_chains(evidence)
