"""What a trace says, as plain records."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import field

from ledger.dataclass import dataclass
from ledger.model.antenna import BaseHeight
from ledger.model.known import KnownBy, KnownValue
from ledger.model.lineage import CustodyState
from ledger.model.rig import RigState


@dataclass(frozen=True)
class SettingChange:
    """A setting that is not as it was in the run before, of the same inputs.

    Args:
        field: its key (`run.output_height_type`).
        before: its value there; None where it was not recorded.
        now: its value here; None where it was not recorded.
    """

    field: str
    before: KnownValue | None
    now: KnownValue | None


@dataclass(frozen=True)
class Amendment:
    """A value that was struck through, and another one written beside it.

    Args:
        field: its key.
        before: what stood there; None where it was blank.
        entry: the entry that amended it.
        by: function of the person who did.
        reason: why.
    """

    field: str
    before: KnownValue | None
    entry: int
    by: str
    reason: str


@dataclass(frozen=True)
class Setup:
    """The base antenna at one flight of a rig.

    Args:
        flight: its id.
        day: of take-off, else of the entry that recorded it.
        height: as it was read, and reduced where that can be; None where nothing was recorded.
    """

    flight: str
    day: str
    height: BaseHeight | None


@dataclass(frozen=True)
class ChainNode:
    """One thing in the chain: a file, an audit, a finding, a run, a flight, a rig or an entry.

    Args:
        kind: `file`, `audit`, `finding`, `run`, `step`, `flight`, `rig`, or the kind of an entry.
        id: `R1`, `F1`, `D1`; for a file the first 12 digits of its SHA-256; for a finding its id;
            for another entry its number.
        entry: the entry that holds it; 0 for a file that no entry knows.
        sources: ids of the nodes that it comes from.
        values: what is recorded of it, by key.
        name: the name a person gave it; for a file its path.
        by: function of the person who entered it.
        time: when it was entered, UTC.
        run_before: the run before of the same inputs; empty for none.
        changes: settings that differ from that run.
        amended: values that were struck through since, in order.
        not_recorded: keys of core fields without a value.
        states: of a rig, what it was like from day to day, oldest first.
        setups: of a rig, the base antenna at each of its flights.
    """

    kind: str
    id: str
    entry: int
    sources: tuple[str, ...] = ()
    values: Mapping[str, KnownValue] = field(default_factory=dict)
    name: str = ""
    by: str = ""
    time: str = ""
    run_before: str = ""
    changes: tuple[SettingChange, ...] = ()
    amended: tuple[Amendment, ...] = ()
    not_recorded: tuple[str, ...] = ()
    states: tuple[RigState, ...] = ()
    setups: tuple[Setup, ...] = ()


@dataclass(frozen=True)
class Copy:
    """Another place where the bytes of a raw file were seen, on another drive.

    Args:
        path: the place.
        sha256: digest of the file.
        of: path of the file in the chain.
        volume: root or noted id of the volume.
        time: when its bytes were last read there, UTC.
        verified: it was read back from its medium after it was made, and nothing is wrong since.
        wrong: what a recheck found wrong with it; empty for nothing.
        drive: the volume as a person knows it: where it was connected, or the job's own drive.
    """

    path: str
    sha256: str
    of: str
    volume: str
    time: str
    verified: bool = False
    wrong: str = ""
    drive: str = ""


@dataclass(frozen=True)
class Backing:
    """How safe the raw files of a chain are.

    Args:
        copies: other places where they were seen.
        good: volumes, besides their own, that each of them was read back from.
        needed: good copies that the job asks for.
    """

    copies: tuple[Copy, ...] = ()
    good: int = 0
    needed: int = 0


@dataclass(frozen=True)
class Place:
    """A path under which the book knows some bytes.

    Args:
        path: as the book stores it.
        relation: what told most of it: `output`, `registered`, `audited`, `input` or `seen`.
        owner: id of the run, flight or deliverable; empty for none.
        entry: the entry that says so.
    """

    path: str
    relation: str
    owner: str
    entry: int


@dataclass(frozen=True)
class Remedy:
    """A command that would record what is missing.

    Args:
        command: as it is typed.
        why: what it is for, in one clause.
    """

    command: str
    why: str


@dataclass(frozen=True)
class UnmeasuredValue:
    """A value that was assumed, or carried over from another record.

    Args:
        node: id of the record.
        field: key of the value.
        value: the value with how it is known.
    """

    node: str
    field: str
    value: KnownValue


@dataclass(frozen=True)
class TraceResult:
    """The answer to "what made this?".

    Args:
        target: what was asked, as typed.
        path: the path that was read, as the book would store it, else where the file was recorded;
            empty for none.
        sha256: digest of the file; empty when the target is no file, or only some digits are known.
        known: whether the book knows it.
        matched_by: how it was matched: `digest`, `full point fingerprint`, `geometry fingerprint`,
            `recorded path`, `id`, or `nothing`.
        sentence: the answer in one sentence.
        state: custody of the file; None when the target is no file.
        places: every path under which the book knows these bytes, the most telling first.
        notes: what else has to be said of the file, one sentence each.
        chain: the nodes, from the target back to the capture.
        onward: what was made of the target, when that was asked.
        is_onward: that was asked.
        backing: where else the raw files were seen, and whether that is enough.
        not_recorded: keys that no node of their kind has a value for, each once.
        remedies: what to type where something is not recorded, most urgent first.
    """

    target: str
    path: str
    sha256: str
    known: bool
    matched_by: str
    sentence: str
    state: CustodyState | None = None
    places: tuple[Place, ...] = ()
    notes: tuple[str, ...] = ()
    chain: tuple[ChainNode, ...] = ()
    onward: tuple[ChainNode, ...] = ()
    is_onward: bool = False
    backing: Backing = Backing()
    not_recorded: tuple[str, ...] = ()
    remedies: tuple[Remedy, ...] = ()

    @property
    def unmeasured(self) -> tuple[UnmeasuredValue, ...]:
        """Return every value of the chain that was assumed or carried over, confirmed or not."""
        return tuple(
            UnmeasuredValue(node.id, key, value)
            for node in self.chain
            for key, value in node.values.items()
            if value.known_by in (KnownBy.ASSUMED, KnownBy.CARRIED)
        )
