"""Rules of the base: its antenna and its coordinates."""

from __future__ import annotations

from ledger.model.fields.choices import SERVICES
from ledger.model.finding import Grade
from lidar_checks.settings.base_conditions import antenna_as_logged, base_is_tied
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

BASE_CHAIN = (
    Rule(
        ids=("SC-18", "GN-01"),
        topic="base-chain",
        grade=Grade.MAJOR,
        unless=("flight.base_kind", (*SERVICES, "none")),
        where_known=("job.system",),
        operands=("flight.base_method",),
        optional=("run.control_used",),
        holds=base_is_tied,
        broken="The base of {flight} stood on a position that it averaged itself, and {run} used "
        "no ground control: the job asks for {job.system}, and all of it may be off by metres.",
        right="The coordinates of the base of {flight} are {flight.base_method}[; ground control "
        "used in {run}: {run.control_used}].",
        unclear="The base of {flight} stood on a position that it averaged itself; whether {run} "
        "used ground control is not on record.",
        remedy="Process again with the base on a known or post-processed position, or tied to "
        "ground control.",
        found="a base that was averaged in {flight}{flight.base_method|how}, ground control used "
        "in {run}: {run.control_used}{run.control_used|how}",
        expected="a known position of the base, or ground control, because job.toml asks for "
        "{job.system}",
    ),
    Rule(
        ids=("SC-19", "GN-02"),
        topic="base-chain",
        grade=Grade.MAJOR,
        unless=("flight.base_kind", (*SERVICES, "none")),
        where_known=("log.antenna_height",),
        operands=("base.antenna_height", "log.antenna_height"),
        holds=antenna_as_logged,
        broken="The card of {flight} has the base antenna {base.antenna_height} m above its mark, "
        "{log.antenna_height|owner} has it {log.antenna_height} m above.",
        right="Card and log have the base antenna of {flight} at one height, "
        "{log.antenna_height} m.",
        unclear="{log.antenna_height|owner} has the base antenna at {log.antenna_height} m: nobody "
        "entered its height into the receiver, so the processing has to add "
        "{base.antenna_height} m.",
        remedy="Find out which one is right (a photo of the tape), and see which one {run} used.",
        found="{log.antenna_height} m in {log.antenna_height|owner}{log.antenna_height|how}",
        expected="{base.antenna_height} m within {limit.log_apart_max_m} m, as {flight} has "
        "it{base.antenna_height|how}",
    ),
)
