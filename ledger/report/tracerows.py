"""The rows of a trace: what belongs together in the eyes of a technician stands in one row.

A row has one way of being known. Values of several records that are alike stand once, with the ids
of all who say so; values that differ stand below each other, where the eye sees that they do.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

from ledger.dataclass import dataclass
from ledger.model.known import KnownValue
from ledger.report.screen import format_digest
from ledger.report.values import label_field, tell_how, write_value
from ledger.trace.nodes import ChainNode

# Row, and the fields in it by the last part of their key, each with how its value is written.
# These answer what a client asks.
ASKED: dict[str, dict[str, str]] = {
    "step": {"kind": "{}", "settings": "settings {}", "removed": "removed {}"},
    "coordinates": {
        "crs": "{}",
        "frame": "frame {}",
        "epoch": "epoch {}",
    },
    "heights": {
        "input_height_type": "in {}",
        "output_height_type": "out {}",
        "vertical_datum": "datum {}",
    },
    "geoid": {"geoid_name": "{}", "geoid_version": "version {}", "geoid_file": "{}"},
    "mount": {"mount_mode": "mode {}", "orientation": "{}", "tilt_deg": "tilt {}"},
    "antenna": {
        "position_source": "{}",
        "scanner_antenna_fitted": "own antenna fitted {}",
        "trajectory": "trajectory {}",
    },
    "lever arm": {
        "lever_arm": "{}",
        "lever_arm_aircraft": "{} from aircraft antenna",
        "lever_arm_scanner": "{} from scanner antenna",
        "lever_arm_from": "from {}",
        "lever_arm_convention": "axes {}",
        "lever_arm_measured": "measured {}",
    },
    "made from": {"made_from": "{}", "inputs": "{}"},
}
# These stand where a record itself is asked for, and where everything is.
RECORDED: dict[str, dict[str, str]] = {
    "program": {"software": "{}", "version": "{}", "build": "build {}"},
    **ASKED,
    "zone": {"zone": "{}"},
    "units": {"unit_horizontal": "horizontal {}", "unit_vertical": "vertical {}"},
    "geoid use": {"geoid_frame": "frame {}", "geoid_applications": "applied {} times"},
    "control": {"control_used": "used {}", "control_count": "{} points"},
    "carried by": {"platform": "{}"},
    "base": {
        "base_kind": "{}",
        "service": "{}",
        "service_frame": "frame {}",
        "service_epoch": "epoch {}",
        "base_mark": "mark {}",
        "base_height": "height {}",
        "base_height_again": "again {}",
        "base_height_kind": "{}",
        "base_antenna": "antenna {}",
        "base_antenna_radius": "radius {}",
        "base_antenna_offset": "reference point {} above the tape",
        "photo_base": "photo {}",
    },
    "field log": {"height_type": "heights {}"},
    "serials": {
        "rig": "rig {}",
        "scanner_serial": "scanner {}",
        "aircraft_serial": "aircraft {}",
        "base_serial": "base {}",
        "bracket": "bracket {}",
    },
    "calibration": {
        "calibration_date": "{}",
        "calibration_serial": "of {}",
        "calibration_file": "{}",
    },
    "flown": {
        "lines": "{} lines",
        "cross_lines": "{} cross lines",
        "line_spacing": "{} apart",
        "height_above_ground": "{} above ground",
        "speed": "{}",
        "wind": "wind {}",
    },
    "time": {
        "takeoff": "take-off {}",
        "landing": "landing {}",
        "started": "started {}",
        "ended": "ended {}",
    },
    "command": {"command": "{}", "folder": "in folder {}", "exit_status": "exit status {}"},
    "late": {"recorded_late": "{}"},
    "repeated": {"repeated": "{}"},
    "decision": {"decision": "{}", "reason": "{}"},
    "states": {
        "accuracy": "{}",
        "statistic": "{}",
        "value": "{}",
        "confidence": "at {}",
        "unit": "in {}",
        "about": "about {}",
    },
    "from": {"count": "{} points", "strata": "{}", "checkpoints": "{}"},
    "stated in": {"report": "{}"},
    "points": {"role": "{}", "file": "{}", "surface": "{}", "surveyed": "{}", "base": "base {}"},
    "columns": {
        "column_id": "{}",
        "column_east": "east {}",
        "column_north": "north {}",
        "column_height": "height {}",
    },
    "points in": {
        "horizontal": "{}",
        "vertical": "heights {}",
        "geoid": "{}",
    },
}
# Of an audit and of a finding, where one of them is asked for; what else they hold stands above.
LOOKED_AT: dict[str, dict[str, str]] = {
    "files": {"files": "{}", "files_made": "{}"},
    "check": {"check": "{}", "outcome": "{}"},
    "found": {"found": "{}"},
    "required": {"required": "{}", "criterion_source": "criterion: {}"},
    "do this": {"remedy": "{}"},
    "accepted": {"accepted": "{}"},
}
# Written as one value with another one that is known in the same way: an arm, and where it starts.
_JOINED = {"lever_arm": ("lever_arm_from", "{} from {}")}
# Of a file: told elsewhere on the screen.
_NO_FACTS = frozenset({"sha256", "recorded_path", "matched_with", "crs_digest"})
_DIGEST_OF = ".sha256"
# Of a run: stands beside its name; that no reason was given is no gap that anybody asks about.
_DECIDED = ("decision", "reason")


@dataclass(frozen=True)
class Row:
    """One line about one or several records.

    Args:
        label: what it is about; empty below another row about the same.
        text: the values.
        gaps: what was not recorded, by name.
        who: ids of the records that say so.
        how: how the values are known; empty where there are none.
        confirmed: whether they were looked at, where that has to be said.
        is_strong: it must not be overlooked.
    """

    label: str
    text: str = ""
    gaps: str = ""
    who: str = ""
    how: str = ""
    confirmed: str = ""
    is_strong: bool = False


class _Line:
    """Values that make one row: of any two, the records behind one are among those of the other.

    So two records that contradict each other never share a row.
    """

    def __init__(self, how: str) -> None:
        self.how = how
        self.texts: list[str] = []
        self.ids: list[tuple[str, ...]] = []

    def takes(self, how: str, ids: tuple[str, ...]) -> bool:
        """Say whether a value of these records may stand in this row."""
        wanted = set(ids)
        return how == self.how and all(wanted <= set(own) or wanted >= set(own) for own in self.ids)

    @property
    def everybody(self) -> list[str]:
        """Return all records that say something in this row, in order."""
        return list(dict.fromkeys(name for own in self.ids for name in own))

    @property
    def who(self) -> str:
        """Return who says all of it, and in brackets who says a part."""
        full = [name for name in self.everybody if all(name in own for own in self.ids)]
        partly = [name for name in self.everybody if name not in full]
        told = f"({join_ids(partly)})" if partly else ""
        return f"{join_ids(full)} {told}".strip()


class _Gathering:
    """Values alike, and gaps alike, with the ids of the records that have them."""

    def __init__(self) -> None:
        self.values: dict[tuple[str, str], list[str]] = {}
        self.gaps: dict[str, list[str]] = {}

    def arrange(self, label: str) -> Iterator[Row]:
        """Yield as few rows as can be."""
        lines: list[_Line] = []
        for (text, how), ids in self.values.items():
            line = next((each for each in lines if each.takes(how, tuple(ids))), None)
            if line is None:
                line = _Line(how)
                lines.append(line)
            line.texts.append(text)
            line.ids.append(tuple(ids))
        left = dict(self.gaps)
        for line in lines:
            names = [name for name, ids in left.items() if set(ids) <= set(line.everybody)]
            left = {name: ids for name, ids in left.items() if name not in names}
            how, _, confirmed = line.how.partition(", ")
            text = ", ".join(line.texts)
            yield Row(label, text, ", ".join(names), line.who, how, confirmed)
            label = ""
        alike: dict[str, list[str]] = {}
        for name, ids in left.items():
            alike.setdefault(join_ids(ids), []).append(name)
        for who, names in alike.items():
            yield Row(label, "", ", ".join(names), who)
            label = ""


def list_rows(
    nodes: Iterable[ChainNode], topics: Mapping[str, Mapping[str, str]] = ASKED
) -> Iterator[Row]:
    """Yield the rows of runs, steps, flights and rigs; what was not recorded stands in its row."""
    listed = tuple(nodes)
    for label, fields in topics.items():
        yield from _gather(listed, fields).arrange(label)


def list_others(node: ChainNode) -> Iterator[Row]:
    """Yield rows of what a record says that belongs to no topic."""
    known = {name for fields in RECORDED.values() for name in fields}
    names = (_name(key) for key in (*node.values, *node.not_recorded) if _is_own(key))
    fields = {name: f"{label_field(name)} {{}}" for name in names if name not in known}
    yield from _gather((node,), fields).arrange("other")


def list_facts(node: ChainNode) -> Iterator[Row]:
    """Yield what a file says of itself, and where it was recorded."""
    values = {_name(key): known for key, known in node.values.items()}
    if "recorded_path" in values:
        yield Row("recorded as", write_value(values["recorded_path"]))
    rest = [name for name in values if name not in _NO_FACTS]
    if rest:
        told = ", ".join(f"{label_field(name)} {write_value(values[name])}" for name in rest)
        yield Row("says", told, how="read")


def list_left(nodes: Iterable[ChainNode], topics: Mapping[str, Mapping[str, str]]) -> list[str]:
    """Return what was not recorded and stands in no row of these topics, with the ids."""
    shown = {name for fields in topics.values() for name in fields}
    left: dict[str, list[str]] = {}
    for node in nodes:
        for key in node.not_recorded:
            if _is_own(key) and _name(key) not in (*shown, *_DECIDED):
                left.setdefault(label_field(key), []).append(node.id)
    return [f"{name} ({join_ids(ids)})" for name, ids in left.items()]


def join_ids(ids: Iterable[str]) -> str:
    """Return ids as short as they can be read: `R2 F1`, `F1–F12 G1`."""
    runs: list[tuple[str, str]] = []
    for name in dict.fromkeys(ids):
        if runs and _follows(runs[-1][1], name):
            runs[-1] = (runs[-1][0], name)
        else:
            runs.append((name, name))
    shown = []
    for first, last in runs:
        between = "" if first == last else "–" if not _follows(first, last) else " "
        shown.append(f"{first}{between}{last if between else ''}")
    return " ".join(shown)


def _follows(before: str, name: str) -> bool:
    """Say whether an id is the next one of its kind."""
    one, two = before[1:], name[1:]
    alike = before[:1] == name[:1] and one.isdecimal() and two.isdecimal()
    return alike and int(two) == int(one) + 1


def _gather(nodes: Iterable[ChainNode], fields: Mapping[str, str]) -> _Gathering:
    gathering = _Gathering()
    for name, form in fields.items():
        for node in nodes:
            key = f"{node.kind}.{name}"
            for text, known in _write(node, key, form):
                gathering.values.setdefault((text, tell_how(known)), []).append(node.id)
            for gap in (key, f"{key}{_DIGEST_OF}"):
                if gap in node.not_recorded:
                    gathering.gaps.setdefault(_label_gap(gap), []).append(node.id)
    return gathering


def _write(node: ChainNode, key: str, form: str) -> Iterator[tuple[str, KnownValue]]:
    """Yield a value; of a file named by its path alone its digest too, known in its own way."""
    known = node.values.get(key)
    if known is None or _is_joined(node, key):
        return
    text = form.format(write_value(known))
    partner = _find_partner(node, key)
    if partner is not None:
        text = _JOINED[_name(key)][1].format(write_value(known), write_value(partner))
    yield text, known
    digest = node.values.get(f"{key}{_DIGEST_OF}")
    if digest is not None:
        yield f"sha256 {format_digest(str(digest.value))} …", digest


def _find_partner(node: ChainNode, key: str) -> KnownValue | None:
    """Return the value that is written with this one; None where it is known in another way."""
    joined = _JOINED.get(_name(key))
    known = node.values.get(key)
    other = node.values.get(f"{node.kind}.{joined[0]}") if joined else None
    return other if known and other and tell_how(known) == tell_how(other) else None


def _is_joined(node: ChainNode, key: str) -> bool:
    """Say whether a value is written with the one before it."""
    owners = [name for name, (other, _) in _JOINED.items() if other == _name(key)]
    return any(_find_partner(node, f"{node.kind}.{name}") is not None for name in owners)


def _label_gap(key: str) -> str:
    if key.endswith(_DIGEST_OF):
        return f"digest of the {label_field(key.removesuffix(_DIGEST_OF))}"
    return label_field(key)


def _is_own(key: str) -> bool:
    """Say whether a key stands for itself: the digest of a named file goes with its path."""
    return not key.endswith(_DIGEST_OF)


def _name(key: str) -> str:
    return key.rsplit(".", 1)[-1]
