"""Rules of the base: its antenna and its coordinates."""

from __future__ import annotations

from ledger.model.finding import Grade
from lidar_checks.settings.conditions import readings_agree
from lidar_checks.settings.rule import Rule

BASE_HEIGHT = (
    Rule(
        ids=("GN-02",),
        topic="base-height",
        grade=Grade.MINOR,
        unless=(
            "flight.base_kind",
            ("network", "permanent station", "satellite service", "none"),
        ),
        operands=("flight.base_height", "flight.base_height_again"),
        holds=readings_agree("flight.base_height", "flight.base_height_again"),
        broken="The height of the base antenna of {flight} was read as {flight.base_height} m and "
        "as {flight.base_height_again} m.",
        right="Two readings of the base antenna of {flight} agree, {flight.base_height} m and "
        "{flight.base_height_again} m.",
        unclear="The two readings of the base antenna of {flight} are no numbers.",
        remedy="Find out which one is right (a photo of the tape, the log of the base), amend "
        "{flight}, and process again where the wrong one was used.",
        found="{flight.base_height} m and {flight.base_height_again} m in "
        "{flight}{flight.base_height|how}",
        expected="two readings within {tolerance}",
    ),
)
