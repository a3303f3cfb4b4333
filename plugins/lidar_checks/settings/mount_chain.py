"""Was the scanner set, mounted and processed in one and the same mount mode."""

from __future__ import annotations

from lidar_checks.settings.settings_check import SettingsCheck
from lidar_checks.settings.topics import list_catalogue, list_record_fields, list_specification_keys


class MountChain(SettingsCheck):
    """Mount mode and orientation agree from flight to processing."""

    id = "mount-chain"
    title = "Mount mode and orientation agree from flight to processing"
    catalogue = list_catalogue("mount-chain")
    fields = list_record_fields("mount-chain")
    specification_keys = list_specification_keys("mount-chain")
    revision = 2
