"""Does the range that was kept reach the ground, and is it one that the scanner was tried at."""

from __future__ import annotations

from lidar_checks.settings.settings_check import SettingsCheck
from lidar_checks.settings.topics import list_catalogue, list_record_fields, list_specification_keys


class RangeLimits(SettingsCheck):
    """Ranges reach the ground and no further than the scanner was tried."""

    id = "range-limits"
    title = "The range that was kept fits the flight"
    catalogue = list_catalogue("range-limits")
    fields = list_record_fields("range-limits")
    specification_keys = list_specification_keys("range-limits")
    revision = 1
