"""What recording gave, for whoever shows it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import field

from ledger.dataclass import dataclass
from ledger.model.artefact import Output
from ledger.model.blanks import Blank, list_blanks
from ledger.model.fields import FIELDS
from ledger.model.known import KnownValue
from ledger.model.nextstep import NOTHING, NextStep
from ledger.model.process import Input
from ledger.record.notes import Note

INPUTS = "inputs"


@dataclass(frozen=True)
class RecordResult:
    """One record as it was entered.

    Args:
        entry: number of its entry.
        id: `R1`, `S1`, `F1`, `G1`, `T1`, `P1`; for a decision, the run that it is about;
            for a sighting, empty.
        kind: `run`, `step`, `flight`, `rig`, `statement`, `points` or `decision`; `sighting` where
            there was nothing to record, and known files were only seen again.
        name: its name, empty for none.
        values: what was recorded, by field key, to be echoed.
        inputs: what the run used.
        beside: settings files and evidence that are kept with it.
        inputs_assumed: nobody said so: it is the only flight of the job.
        makers: ids of the runs and steps that made its inputs, by digest.
        outputs: what the run made.
        left_out: files that were not recorded, as the book writes paths.
        unread: why files beside them could not be read, by path.
        decision: what became of the run, empty for a card.
        reason: the reason given.
        blanks: what was not recorded and what that costs, in asking order.
        points_in: points in what a step worked on; None where that is not known.
        seen: known files of other runs that were seen again, as the book writes paths.
        step: what to type next in the job.
        notes: what follows from a flight or rig by itself.
        exit_status: how the command ended that was run; 0 where none was.
        is_copy: whether a command that was run only copied them.
        is_new: whether an entry was made; not where the book said the same already.
    """

    entry: int
    id: str
    kind: str
    name: str = ""
    values: Mapping[str, KnownValue] = field(default_factory=dict)
    inputs: tuple[Input, ...] = ()
    beside: tuple[Input, ...] = ()
    inputs_assumed: bool = False
    makers: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    outputs: tuple[Output, ...] = ()
    left_out: tuple[str, ...] = ()
    unread: Mapping[str, str] = field(default_factory=dict)
    decision: str = ""
    reason: str = ""
    blanks: tuple[Blank, ...] = ()
    seen: tuple[str, ...] = ()
    points_in: int | None = None
    step: NextStep = NOTHING
    not_understood: tuple[str, ...] = ()
    taken_out: tuple[str, ...] = ()
    notes: tuple[Note, ...] = ()
    is_new: bool = True
    is_copy: bool = False
    exit_status: int = 0

    @property
    def sources(self) -> tuple[str, ...]:
        """Return the runs and steps that made any of its inputs."""
        return tuple(dict.fromkeys(name for ids in self.makers.values() for name in ids))

    @property
    def not_recorded(self) -> tuple[str, ...]:
        """Return the fields that have no value."""
        return tuple(blank.field for blank in self.blanks)


def price_blanks(
    kind: str, name: str, values: Mapping[str, KnownValue], *, later: bool = False
) -> tuple[Blank, ...]:
    """Return the blanks of a record, each with what it costs.

    Args:
        kind: `rig`, `flight`, `run` or `step`.
        name: id of the record.
        values: what was recorded.
        later: a run that works on what other runs made.
    """
    return tuple(
        Blank(key, checks=(), subjects=(name,), why=FIELDS[key].why)
        for key in list_blanks(kind, values, later=later)
    )
