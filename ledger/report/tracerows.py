"""The rows of a trace: what belongs together in the eyes of a technician stands on one line."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from ledger.model.known import KnownValue
from ledger.model.phrases import describe_bytes
from ledger.report.screen import format_digest
from ledger.report.values import label_field, tell_how, write_value
from ledger.trace.nodes import ChainNode

# Row, and the fields in it by the last part of their key; a field with a label is written with it.
_ROWS: dict[str, dict[str, str]] = {
    "program": {"software": "", "version": "", "build": "build"},
    "mount": {"platform": "on", "mount_mode": "mode", "orientation": "", "tilt_deg": "tilt"},
    "positions": {"position_source": "", "trajectory": "trajectory"},
    "lever arm": {
        "lever_arm": "",
        "lever_arm_aircraft": "aircraft antenna",
        "lever_arm_scanner": "scanner antenna",
        "lever_arm_from": "from",
        "lever_arm_convention": "axes",
        "lever_arm_measured": "measured",
    },
    "coordinates": {"crs": "", "zone": "zone", "frame": "frame", "epoch": "epoch"},
    "units": {"unit_horizontal": "horizontal", "unit_vertical": "vertical"},
    "heights": {
        "height_type": "",
        "input_height_type": "in",
        "output_height_type": "out",
        "vertical_datum": "datum",
    },
    "geoid": {
        "geoid_name": "",
        "geoid_version": "version",
        "geoid_frame": "frame",
        "geoid_applications": "times applied",
        "geoid_file": "",
    },
    "control": {"control_used": "used", "control_count": "points"},
    "base": {"base_mark": "mark", "base_height": "height", "base_height_kind": ""},
    "serials": {
        "rig": "rig",
        "scanner_serial": "scanner",
        "aircraft_serial": "aircraft",
        "base_serial": "base",
        "scanner_antenna_fitted": "own antenna fitted",
    },
    "calibration": {"calibration_date": "", "calibration_file": ""},
    "time": {"takeoff": "take-off", "landing": "landing", "started": "started"},
    "decision": {"decision": "", "reason": ""},
}
# What a file says of itself that a person looks for in a chain.
_FILE_FACTS = ("points", "version", "crs", "software", "created", "marker", "antenna", "first_time")


@dataclass(frozen=True)
class Row:
    """One line of a record.

    Args:
        label: what it is about.
        text: the values.
        how: how they are known.
    """

    label: str
    text: str
    how: str


def list_rows(node: ChainNode) -> Iterator[Row]:
    """Yield the rows of a run, step, flight or rig; what was not recorded stands in its row."""
    by_name = {key.rsplit(".", 1)[-1]: value for key, value in node.values.items()}
    missing = {key.rsplit(".", 1)[-1] for key in node.not_recorded}
    shown: set[str] = set()
    for label, fields in _ROWS.items():
        present = {name: by_name[name] for name in fields if name in by_name}
        gaps = [name for name in fields if name in missing]
        shown.update(present, gaps)
        if present or gaps:
            parts = [_write(fields[name], known) for name, known in present.items()]
            parts += [f"{label_field(name)} not recorded" for name in gaps]
            yield Row(label, ", ".join(parts), _tell_all(present))
    rest = {name: known for name, known in by_name.items() if name not in shown}
    if rest:
        parts = [f"{label_field(name)} {write_value(known)}" for name, known in rest.items()]
        yield Row("other", ", ".join(parts), _tell_all(rest))
    if others := sorted(missing - shown):
        yield Row("not recorded", ", ".join(label_field(name) for name in others), "")


def _write(label: str, known: KnownValue) -> str:
    return f"{label} {write_value(known)}".strip()


def _tell_all(values: Mapping[str, KnownValue]) -> str:
    """Return how values are known: once when alike, else with the name of each."""
    told = {name: tell_how(known) for name, known in values.items()}
    if len(set(told.values())) <= 1:
        return next(iter(told.values()), "")
    return ", ".join(f"{label_field(name)} {how}" for name, how in told.items())


def sum_up_file(node: ChainNode) -> str:
    """Return role, size and digest of a file in one line."""
    values = {key.rsplit(".", 1)[-1]: known.value for key, known in node.values.items()}
    parts = [str(values.get("role", ""))]
    if isinstance(size := values.get("bytes"), int):
        parts.append(describe_bytes(size))
    if digest := str(values.get("sha256", "")):
        parts.append(f"sha256 {format_digest(digest)} …")
    return ", ".join(part for part in parts if part)


def list_facts(node: ChainNode) -> Iterable[Row]:
    """Return what a delivered file says of itself, and where it was recorded."""
    values = {key.rsplit(".", 1)[-1]: known for key, known in node.values.items()}
    facts = [
        f"{label_field(name)} {write_value(values[name])}" for name in _FILE_FACTS if name in values
    ]
    if "recorded_path" in values:
        yield Row("recorded as", write_value(values["recorded_path"]), "")
    if facts:
        yield Row("says", ", ".join(facts), "read")
