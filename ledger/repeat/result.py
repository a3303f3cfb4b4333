"""What `repeat` says, as plain records."""

from __future__ import annotations

from enum import StrEnum

from ledger.compare.setresult import SetComparison
from ledger.dataclass import dataclass
from ledger.model.known import KnownValue


class Readiness(StrEnum):
    """How far a run can be done again; common practice, no source."""

    A = "A"
    B = "B"
    C = "C"
    D = "D"


MEANINGS = {
    Readiness.A: "everything that it needs is known by its bytes and there",
    Readiness.B: "all but one thing is known by its bytes and there; of that one there is a record",
    Readiness.C: "settings were typed, or several things are known by a record alone",
    Readiness.D: "raw data or settings are missing: it cannot be done again",
}


class ItemState(StrEnum):
    """How one thing that a run needs stands."""

    THERE = "there"
    RECORD_ONLY = "record only"
    MISSING = "missing"
    NOT_NEEDED = "not needed"


@dataclass(frozen=True)
class Item:
    """One thing that a run needs.

    Args:
        name: `raw data`, `base log`, `settings`, `geoid`, `calibration` or `installer`.
        state: how it stands.
        told: what there is, or what is missing, in one sentence.
        remedy: what to do about it; empty where nothing is missing.
    """

    name: str
    state: ItemState
    told: str
    remedy: str = ""


@dataclass(frozen=True)
class Setting:
    """One recorded setting, as it has to be set again.

    Args:
        key: its field key.
        question: the field in words.
        value: the value, with how it is known.
    """

    key: str
    question: str
    value: KnownValue


@dataclass(frozen=True)
class WrittenSettings:
    """The settings of one file that the program left, without secrets.

    Args:
        path: where it was read.
        sha256: digest of the file.
        rows: flat key and text.
        taken_out: keys whose value was a secret and was not kept.
    """

    path: str
    sha256: str
    rows: tuple[tuple[str, str], ...]
    taken_out: tuple[str, ...] = ()


@dataclass(frozen=True)
class UsedInput:
    """One file that the run used.

    Args:
        path: where it was last seen.
        sha256: its digest.
        role: what it was used as.
        is_there: it lies there with the size and time of when it was seen.
    """

    path: str
    sha256: str
    role: str
    is_there: bool


@dataclass(frozen=True)
class Sheet:
    """Everything that a person has to set and give to do a run again by hand.

    Args:
        run: its id.
        settings: recorded settings, in the order in which they are asked.
        written: settings in files of the program.
        inputs: files that it used.
        not_recorded: questions of core fields that nobody answered.
        command: the command that was run, without secrets; empty for none.
        folder: the folder it was run in.
    """

    run: str
    settings: tuple[Setting, ...]
    written: tuple[WrittenSettings, ...]
    inputs: tuple[UsedInput, ...]
    not_recorded: tuple[str, ...]
    command: str = ""
    folder: str = ""


@dataclass(frozen=True)
class RepeatResult:
    """The answer to "can it be done again?", and what came of doing it.

    Args:
        run: id of the run or step.
        readiness: grade A to D.
        items: what it needs, one by one.
        sheet: what to set.
        outcome: `identical`, `same points`, `equivalent`, `different` or `failed`; empty where
            nothing was graded.
        comparison: the new outputs against those of the run; None where nothing was graded.
        entry: the entry that holds the outcome; 0 for none.
        folder: where the new outputs lie; empty for none.
        exit_status: of a command that was run; None for none.
        unrecorded: files that the command named and that are no recorded input; they were copied.
    """

    run: str
    readiness: Readiness
    items: tuple[Item, ...]
    sheet: Sheet
    outcome: str = ""
    comparison: SetComparison | None = None
    entry: int = 0
    folder: str = ""
    exit_status: int | None = None
    unrecorded: tuple[str, ...] = ()

    @property
    def missing(self) -> tuple[Item, ...]:
        """Return what is not there by its bytes."""
        lacking = (ItemState.MISSING, ItemState.RECORD_ONLY)
        return tuple(item for item in self.items if item.state in lacking)

    @property
    def holds(self) -> bool:
        """Say whether nothing was graded as different, and no command failed."""
        return self.outcome not in ("different", "failed")
