"""The rules that recorded settings have to keep, as rows of one table.

Sources: common practice of the trade, no source, unless a row says otherwise. Ids beginning with
SC are rules of settings, the others name the failures that a broken rule points to.

How values are put into the sentences is said in `wording.py`.
"""

from __future__ import annotations

from lidar_checks.settings.rules_base import BASE_CHAIN, BASE_HEIGHT
from lidar_checks.settings.rules_capture import LEVER_ARM, MOUNT, POSITION
from lidar_checks.settings.rules_frames import FRAMES
from lidar_checks.settings.rules_heights import HEIGHTS
from lidar_checks.settings.rules_limits import EXPORT, LENGTHS, RANGE
from lidar_checks.settings.rules_times import CONTROL, TIMES
from lidar_checks.settings.rules_zones import SCALE, ZONES

RULES = (
    *MOUNT,
    *POSITION,
    *LEVER_ARM,
    *BASE_HEIGHT,
    *HEIGHTS,
    *FRAMES,
    *ZONES,
    *SCALE,
    *BASE_CHAIN,
    *TIMES,
    *CONTROL,
    *LENGTHS,
    *RANGE,
    *EXPORT,
)
