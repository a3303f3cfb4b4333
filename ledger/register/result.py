"""What a person says of raw files, and what is told of them once they are entered."""

from __future__ import annotations

from pathlib import Path

from ledger.copies import Copies
from ledger.copyto import DriveCopies
from ledger.dataclass import dataclass
from ledger.model.artefact import FileRecord, Role
from ledger.model.nextstep import NOTHING, NextStep


@dataclass(frozen=True)
class RegisteredFile:
    """One file of this call.

    Args:
        record: the file as it was seen.
        new: whether its bytes were not registered before.
        new_use: its bytes were, but not in this flight or role: a use of its own.
    """

    record: FileRecord
    new: bool
    new_use: bool = False


@dataclass(frozen=True)
class LeftOutFile:
    """Something under a named path that was not entered.

    Args:
        path: as the book writes it.
        path_bytes: its raw name in hex, where `path` is not exactly it; else empty.
        why: one sentence without the path.
        may_hold_data: it is a file or folder that could not be read, and no link or pipe.
    """

    path: str
    path_bytes: str
    why: str
    may_hold_data: bool = False


@dataclass(frozen=True)
class RegisterResult:
    """What was entered.

    Args:
        entry: number of the last entry made.
        files: every file of this call, sorted by path.
        flight: the flight that they belong to; empty for none.
        bytes: bytes of all files.
        resumed: files whose digest was still known from a call that entered nothing.
        copies: where these files lie, as far as the book saw it.
        step: what to type next in the job.
        drives: what this call copied, by drive.
        left_out: what lies there and was not entered, sorted by path.
        remarks: one sentence each about what may do harm later.
    """

    entry: int
    files: tuple[RegisteredFile, ...]
    flight: str
    bytes: int
    resumed: int
    copies: Copies
    step: NextStep = NOTHING
    drives: tuple[DriveCopies, ...] = ()
    left_out: tuple[LeftOutFile, ...] = ()
    remarks: tuple[str, ...] = ()

    @property
    def is_complete(self) -> bool:
        """Say whether all that was named was entered, and every copy made and read back."""
        return not self.left_out and not any(each.faults for each in self.drives)


@dataclass(frozen=True)
class RegisterOptions:
    """What the person said about the files.

    Args:
        role: role of all of them; None to guess it from content.
        flight: id of the flight, in any case; empty for none.
        by: function of the person.
        copy_to: a folder on each drive that the files are copied to.
    """

    role: Role | None = None
    flight: str = ""
    by: str = "technician"
    copy_to: tuple[Path, ...] = ()
