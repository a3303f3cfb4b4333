"""What a trace says of a rig over time, and of the height of a base antenna."""

from __future__ import annotations

from collections.abc import Iterator

from ledger.model.antenna import BaseHeight, read_base_height
from ledger.model.rig import ARMS, BRACKET, CALIBRATED, MEASURED, RigState, find_stale_arms
from ledger.report.tracerows import Row
from ledger.report.values import label_field, write_value
from ledger.trace.nodes import ChainNode

_FROM = {ARMS[0]: "{} from aircraft antenna", ARMS[1]: "{} from scanner antenna"}
_TOLD = {**_FROM, MEASURED: "measured {}", BRACKET: "bracket {}", CALIBRATED: "calibrated {}"}


def list_history(node: ChainNode) -> Iterator[Row]:
    """Yield what a rig was like from day to day, and its base antenna at each flight.

    A rig that was never altered has no history: its values stand above.
    """
    label = "over time"
    for place, state in enumerate(node.states):
        before = node.states[place - 1] if place else None
        if len(node.states) > 1:
            yield _describe_state(label, state, before)
            label = ""
    label = "bases"
    for setup in node.setups:
        told = "height not recorded" if setup.height is None else describe_height(setup.height)
        yield Row(label, f"{setup.day} {setup.flight}: {told}", is_strong=not _agrees(setup.height))
        label = ""


def list_altered(node: ChainNode) -> Iterator[Row]:
    """Yield from when on a rig was another one than it is told here, as it was when flown."""
    entries = [state.entry for state in node.states[:-1]]
    if node.entry in entries:
        later = node.states[entries.index(node.entry) + 1 :]
        since = min(state.since for state in later)
        yield Row("altered", f"{node.id} is told as it was flown; since {since} it is another")


def _describe_state(label: str, state: RigState, before: RigState | None) -> Row:
    """Return one state; what else altered the rig is told beside arm, bracket and calibration."""
    told = f"since {state.since}" if before is not None else "at first"
    parts = [form.format(_write(state, key)) for key, form in _TOLD.items() if key in state.values]
    others = (key for key in state.changed if key not in _TOLD)
    parts += [f"{label_field(key)} {_write(state, key)}" for key in others]
    stale = before is not None and bool(find_stale_arms(before.values, state.values))
    warning = "; another bracket, and the lever arm as before" if stale else ""
    text = f"{told}: {', '.join(parts)}{warning}"
    return Row(label, text, who=f"entry {state.entry}", is_strong=stale)


def _write(state: RigState, key: str) -> str:
    return write_value(state.values[key])


def list_reduced(node: ChainNode) -> Iterator[Row]:
    """Yield what follows from the readings of the base antenna of a flight, computed."""
    height = read_base_height(node.values)
    if height is not None and (height.kind == "slant" or not height.agrees):
        yield Row("so base", describe_height(height), how="computed", is_strong=not height.agrees)


def describe_height(height: BaseHeight) -> str:
    """Return how high a base antenna stood, as it was read and reduced."""
    read = " and ".join(f"{reading} m" for reading in height.readings)
    told = f"{read} {height.kind or 'read, nobody said how'}"
    if height.kind == "slant":
        known = f"{height.vertical} m vertical" if height.vertical is not None else "not reduced"
        told += f", {known}"
    if height.apart is not None and not height.agrees:
        told += f"; {height.apart.scaleb(3).normalize():f} mm apart"
    return told


def _agrees(height: BaseHeight | None) -> bool:
    return height is None or height.agrees
