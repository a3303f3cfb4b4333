"""Runs, steps, flights and rigs as they stand after every later entry about them."""

from __future__ import annotations

from collections.abc import Container, Iterable, Mapping
from dataclasses import field
from enum import StrEnum
from typing import Literal

from ledger.dataclass import dataclass
from ledger.model.artefact import Output, Role
from ledger.model.known import KnownValue
from ledger.model.rig import RigState


class Decision(StrEnum):
    """What became of a run or step."""

    ACCEPTED = "accepted"
    REJECTED = "rejected"
    SUPERSEDED = "superseded"
    UNDECIDED = "undecided"


@dataclass(frozen=True)
class Input:
    """Something that a run or step used: a whole flight, or one file.

    Args:
        flight: id of a flight (`F1`) whose registered files were all used; empty for one file.
        sha256: digest of a single file; empty for a flight.
        path: where it was seen; empty for a flight.
        role: what the file was used as.
        assumed: nobody said so: it was the only flight of the job.
        bytes: size of a single file when it was recorded; 0 where that was not told.
    """

    flight: str = ""
    sha256: str = ""
    path: str = ""
    role: str = ""
    assumed: bool = False
    bytes: int = 0


CardKind = Literal["flight", "rig", "statement", "points"]


@dataclass(frozen=True)
class Card:
    """What is recorded without files of its own: a flight, a rig, a statement, a table of points.

    Args:
        id: `F1` for a flight, `G1` for a rig, `T1` for a statement, `P1` for a table of points.
        name: optional name.
        entry: the entry that holds the values.
        time: when it was entered, UTC.
        by: function of the person who entered it.
        values: by field key (`flight.mount_mode`).
        states: of a rig, what it was like from day to day, oldest first; empty where nobody asked.
    """

    id: str
    name: str
    entry: int
    time: str
    by: str
    values: Mapping[str, KnownValue] = field(default_factory=dict)
    states: tuple[RigState, ...] = ()


@dataclass(frozen=True)
class Process:
    """A run or a step.

    Args:
        id: `R1` for a run, `S1` for a step.
        kind: `run` or `step`.
        name: optional name.
        entry: the entry that recorded it.
        time: when it was recorded, UTC.
        by: function of the person who recorded it.
        decision: the latest decision on it.
        decision_entry: the entry of that decision; the recording entry when it came with it.
        reason: the reason given with the decision.
        values: by field key (`run.mount_mode`).
        inputs: what it used.
        outputs: what it made.
        decision_time: when the latest decision was entered, UTC; empty when that is not known.
    """

    id: str
    kind: str
    name: str
    entry: int
    time: str
    by: str
    decision: Decision
    decision_entry: int
    reason: str
    values: Mapping[str, KnownValue] = field(default_factory=dict)
    inputs: tuple[Input, ...] = ()
    outputs: tuple[Output, ...] = ()
    decision_time: str = ""

    def find_value(self, name: str) -> KnownValue | None:
        """Return a value by the part of its key that runs and steps share (`software`)."""
        return self.values.get(f"{self.kind}.{name}")


# What points can be made of; a geoid or a boundary beside them is no source of points.
_SOURCES_OF_POINTS = frozenset({Role.CAPTURE, Role.POINTS, ""})


def is_source(used: Input) -> bool:
    """Say whether an input is something that points are made of."""
    return bool(used.flight) or used.role in _SOURCES_OF_POINTS


def works_on_others(kind: str, inputs: Iterable[Input], made: Container[str]) -> bool:
    """Say whether a run or step works on what others made, and on nothing that came from the field.

    A run without any input on record counts as one on raw data: nothing says otherwise.

    Args:
        kind: `run` or `step`; a step always works on what others made.
        inputs: what it used.
        made: digests of the files that other runs and steps made.
    """
    listed = tuple(inputs)
    if kind == "step":
        return True
    raw = any(used.flight or (is_source(used) and used.sha256 not in made) for used in listed)
    return not raw and any(used.sha256 in made for used in listed)


def find_later(processes: Iterable[Process]) -> frozenset[str]:
    """Return the ids of runs and steps that work on what others of these processes made."""
    listed = tuple(processes)
    makers: dict[str, set[str]] = {}
    for process in listed:
        for output in process.outputs:
            makers.setdefault(output.file.sha256, set()).add(process.id)
    return frozenset(
        process.id
        for process in listed
        if works_on_others(
            process.kind,
            process.inputs,
            {
                used.sha256
                for used in process.inputs
                if makers.get(used.sha256, set()) - {process.id}
            },
        )
    )
