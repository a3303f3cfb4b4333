"""The made-up job on which causes are told."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from made_geoid import write_geoid
from made_residuals import (
    ANTENNA_M,
)

from ledger.contract.check import Finding
from ledger.model.known import KnownValue
from ledger.model.process import Card
from ledger.model.sitegeoid import SiteGeoid

Tell = Callable[..., list[Finding]]


FLIGHT = {
    "flight.takeoff": KnownValue("2026-05-12T14:00:00Z"),
    "flight.rig": KnownValue("G1"),
    "flight.position_source": KnownValue("aircraft receiver"),
    "flight.base_height": KnownValue(str(ANTENNA_M), "m"),
    "flight.base_height_kind": KnownValue("vertical"),
    "flight.frame": KnownValue("NAD83(2011)"),
}


RIG = {
    "rig.lever_arm_aircraft": KnownValue(["0.112", "0.004", "0.231"], "m"),
    "rig.lever_arm_convention": KnownValue("forward-right-down"),
}


def make_card(name: str, values: dict[str, KnownValue]) -> Card:
    """Return a flight or a rig."""
    return Card(name, "", 1, "2026-05-12T15:00:00Z", "pilot", values)


def write_small(folder: Path) -> SiteGeoid:
    """Write a geoid that lies 4 cm above the ellipsoid."""
    return write_geoid(folder / "small.gtx", (-80.4, 38.596), 0.04)
