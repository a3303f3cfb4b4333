"""Every error that Swathbook raises on purpose.

One root, so that a caller can catch them all, and one shape, so that every message reads alike:
what, found against expected, where, what to do.

    SwathbookError
    ├── UsageError              the command line or a form was filled in wrongly
    │   └── UnansweredError     a question needs a person and there is no terminal
    ├── FaultsError             several faults found in one reading, reported together
    ├── SpecificationError      job.toml cannot be used
    ├── BookError               the book cannot be used
    │   ├── NoBookError         no book in this folder or above it
    │   ├── ForeignBookError    a file that is not a book of ours
    │   ├── NewerBookError      a book made by a later version
    │   ├── BusyBookError       another writer holds the book
    │   └── BrokenBookError     the stored entries no longer match the tree
    ├── FileError               a file cannot be read as what it claims to be
    │   ├── UnreadableFileError the system refused to open or read it
    │   ├── ChangedFileError    the file changed while it was being read
    │   └── MalformedFileError  its content breaks its format
    │       └── ShortFileError  it ends before its own header says
    ├── StoreError              a store of objects cannot be reached, or was lost
    ├── CrsError                a coordinate reference system is absent, unreadable or unusable
    │   └── MissingGridError    an operation needs a grid that is not on this machine
    └── ContractError           a check or plugin broke the rules of the contract

This module imports nothing of ours.
"""

from __future__ import annotations

from typing import Self

from ledger.dataclass import dataclass


@dataclass(frozen=True)
class Fault:
    """One thing that is wrong, in the order a person needs it.

    Args:
        what: the sentence, without a final full stop.
        found: the value met, as text; empty when the sentence already says it.
        expected: what would have been right; empty when the sentence already says it.
        where: the file, key or place.
        line: line number in a text file, counted from 1.
        remedy: what to do next.
    """

    what: str
    found: str = ""
    expected: str = ""
    where: str = ""
    line: int | None = None
    remedy: str = ""

    def sentence(self) -> str:
        """Return the fault as one line: where, what, found against expected, what to do."""
        place = self.where + (f" line {self.line}" if self.line is not None else "")
        against = ""
        if self.found:
            against = f": found {self.found}"
        if self.expected:
            against += f"{',' if self.found else ':'} expected {self.expected}"
        remedy = f"; {self.remedy}" if self.remedy else ""
        return f"{place}{': ' if place else ''}{self.what}{against}{remedy}"


class SwathbookError(Exception):
    """Root of all errors raised on purpose; carries one or more faults."""

    kind = "error"

    def __init__(self, what: str, **parts: object) -> None:
        """Make an error of one fault; `parts` are the other fields of `Fault`."""
        self.faults: tuple[Fault, ...] = (Fault(what, **parts),)  # type: ignore[arg-type]
        super().__init__(what)

    @classmethod
    def from_faults(cls, faults: tuple[Fault, ...]) -> Self:
        """Make one error of several faults, reported together."""
        error = cls(faults[0].what)
        error.faults = faults
        return error

    def __str__(self) -> str:
        """Return one line for each fault."""
        return "\n".join(fault.sentence() for fault in self.faults)


class UsageError(SwathbookError):
    """The command line, or a form, was filled in wrongly."""

    kind = "usage"


class UnansweredError(UsageError):
    """A question needs a person, and there is no terminal to ask at."""

    kind = "unanswered"


class FaultsError(SwathbookError):
    """Several faults found in one reading."""

    kind = "faults"


class SpecificationError(SwathbookError):
    """`job.toml` cannot be used."""

    kind = "specification"


class BookError(SwathbookError):
    """The book cannot be used."""

    kind = "book"


class NoBookError(BookError):
    """There is no book in this folder or in any folder above it."""

    kind = "no-book"


class ForeignBookError(BookError):
    """The file is not a book of ours."""

    kind = "foreign-book"


class NewerBookError(BookError):
    """The book was made by a later version."""

    kind = "newer-book"


class BusyBookError(BookError):
    """Another writer holds the book."""

    kind = "busy-book"


class BrokenBookError(BookError):
    """The stored entries no longer match their tree."""

    kind = "broken-book"


class FileError(SwathbookError):
    """A file cannot be read as what it claims to be."""

    kind = "file"


class UnreadableFileError(FileError):
    """The system refused to open or to read the file."""

    kind = "unreadable-file"


class LockedFileError(UnreadableFileError):
    """Another program has the file open for itself now, and may be writing it."""


class UnwritableFileError(FileError):
    """A file of our own making could not be written."""

    kind = "unwritable-file"


class ChangedFileError(FileError):
    """The file changed while it was being read."""

    kind = "changed-file"


class MalformedFileError(FileError):
    """The content of the file breaks its format."""

    kind = "malformed-file"


class ShortFileError(MalformedFileError):
    """The file ends before its own header says it does."""

    kind = "short-file"


class StoreError(SwathbookError):
    """A store of objects cannot be reached, or was lost; that says nothing of what it holds.

    No error of a file: who goes on with the other files of a folder must not go on without their
    store.
    """

    kind = "store"


class CrsError(SwathbookError):
    """A coordinate reference system is absent, unreadable or cannot be used."""

    kind = "crs"


class MissingGridError(CrsError):
    """An operation needs a grid that is not on this machine."""

    kind = "missing-grid"


class ContractError(SwathbookError):
    """A check or a plugin broke the rules of the contract."""

    kind = "contract"
