"""Did scanner and log run in one time scale, or is what lies between them on record."""

from __future__ import annotations

from lidar_checks.settings.settings_check import SettingsCheck
from lidar_checks.settings.topics import list_catalogue, list_record_fields, list_specification_keys


class TimeScale(SettingsCheck):
    """Time scales are stated, and joined with the right leap seconds."""

    id = "time-scale"
    title = "Clocks ran in one time scale, or what is between them is recorded"
    catalogue = list_catalogue("time-scale")
    fields = list_record_fields("time-scale")
    specification_keys = list_specification_keys("time-scale")
    revision = 1
