"""What the rules of one check have in common: its topic, and all that they look at."""

from __future__ import annotations

from ledger.model.fields import FIELDS
from lidar_checks.settings.operand import SPECIFICATION
from lidar_checks.settings.rule import Rule
from lidar_checks.settings.rules import RULES
from lidar_checks.settings.systems import WISHES


def list_rules(topic: str) -> tuple[Rule, ...]:
    """Return the rules of one check."""
    return tuple(rule for rule in RULES if rule.topic == topic)


# What a later process may change is judged there too; a capture only where it was processed.
_JUDGES_STEPS = frozenset(
    {"height-chain", "frame-chain", "zone-chain", "scale-basis", "export-settings"}
)

_STANDS_FOR = {
    "source.height_type": (
        "flight.height_type",
        "run.output_height_type",
        "step.output_height_type",
    ),
    "source.frame": ("flight.frame", "run.frame"),
    "source.epoch": ("flight.epoch", "run.epoch"),
    "site.shift_to_run": ("flight.takeoff",),
    "site.shift_to_job": ("flight.takeoff",),
    "base.antenna_height": ("flight.base_height", "flight.base_height_kind"),
    "job.claim": ("statement.value",),
    "run.system": ("run.crs",),
    "run.trajectory_system": ("run.trajectory_crs",),
    "run.operation_accuracy": ("run.frame_operation",),
    "rig.lever_arm": ("flight.rig", "rig.lever_arm_aircraft", "rig.lever_arm_scanner"),
}


def list_record_fields(topic: str) -> tuple[str, ...]:
    """Return the record fields that the rules of one check look at, sorted."""
    keys = {
        field
        for rule in list_rules(topic)
        for key in rule.list_keys()
        for field in _STANDS_FOR.get(key, (key,))
    }
    if topic in _JUDGES_STEPS:
        keys |= {key.replace("run.", "step.", 1) for key in keys}
    if any(key.startswith("rig.") for key in keys):
        keys.add("flight.rig")
    return tuple(sorted(keys & FIELDS.keys()))


def list_specification_keys(topic: str) -> tuple[str, ...]:
    """Return the keys of `job.toml` that the rules of one check look at, sorted."""
    keys = {key for rule in list_rules(topic) for key in rule.list_keys()}
    asked = {key.removeprefix(SPECIFICATION) for key in keys if key.startswith(SPECIFICATION)}
    return tuple(sorted(asked | {name for key in keys for name in _list_behind(key)}))


def _list_behind(key: str) -> tuple[str, ...]:
    """Return the keys of `job.toml` that decide about an operand."""
    if key not in WISHES or WISHES[key][0].startswith(_CRITERIA):
        return ()
    return (WISHES[key][0], *_ALSO_BEHIND.get(key, ()))


_CRITERIA = "criteria."
# Where a unit is not stated, that of the system counts.
_ALSO_BEHIND = {
    "job.unit_horizontal": ("coordinates.horizontal",),
    "job.unit_vertical": ("coordinates.vertical_crs",),
}


def list_catalogue(topic: str) -> tuple[str, ...]:
    """Return the ids of rules and failures of one check, in order, each once."""
    return tuple(dict.fromkeys(name for rule in list_rules(topic) for name in rule.ids))
