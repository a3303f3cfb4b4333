"""Settings that do not agree."""

from __future__ import annotations

from planted import Planted, make_chain, record

from lidar_checks.settings.lever_arm_chain import LeverArmChain
from lidar_checks.settings.mount_chain import MountChain

CASES: tuple[Planted, ...] = (
    record(
        "mount mode left on hand",
        MountChain(),
        make_chain(run__mount_mode="hand"),
        make_chain(),
    ),
    record(
        "lever arm off along one axis",
        LeverArmChain(),
        make_chain(run__lever_arm=["0.131", "-0.030", "0.250"]),
        make_chain(run__lever_arm=["0.129", "-0.030", "0.250"]),
        gate="0.011 m against 0.009 m",
    ),
)
