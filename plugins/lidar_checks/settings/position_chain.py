"""Do positions and lever arm belong to the same antenna."""

from __future__ import annotations

from lidar_checks.settings.settings_check import SettingsCheck
from lidar_checks.settings.topics import list_catalogue, list_record_fields, list_specification_keys


class PositionChain(SettingsCheck):
    """Positions and lever arm belong to one antenna."""

    id = "position-chain"
    title = "Positions and lever arm belong to the same antenna"
    catalogue = list_catalogue("position-chain")
    fields = list_record_fields("position-chain")
    specification_keys = list_specification_keys("position-chain")
    revision = 2
