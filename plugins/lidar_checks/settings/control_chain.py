"""Was ground control used, or are there checkpoints that bear out what is stated."""

from __future__ import annotations

from lidar_checks.settings.settings_check import SettingsCheck
from lidar_checks.settings.topics import list_catalogue, list_record_fields, list_specification_keys


class ControlChain(SettingsCheck):
    """Ground control or checkpoints stand behind a stated accuracy."""

    id = "control-chain"
    title = "There is something to hold the accuracy against"
    catalogue = list_catalogue("control-chain")
    fields = list_record_fields("control-chain")
    specification_keys = list_specification_keys("control-chain")
    revision = 1
