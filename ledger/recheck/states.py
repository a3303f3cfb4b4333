"""What a recheck says, as plain records."""

from __future__ import annotations

from ledger.dataclass import dataclass
from ledger.model.artefact import FileRecord
from ledger.model.filestate import FileState
from ledger.recheck.against import SealAnswer, SealState
from ledger.stamped import Stamp
from ledger.standing import Standing
from ledger.volumes import Volume

__all__ = ["CheckedFile", "CopiesAnswer", "FileState", "Noted", "RecheckResult"]


@dataclass(frozen=True)
class Noted:
    """What the book noted of a file under its path.

    Args:
        entry: the latest entry that recorded these bytes there.
        time: when that was entered, UTC.
        bytes: size.
    """

    entry: int
    time: str
    bytes: int


@dataclass(frozen=True)
class CheckedFile:
    """One path and its state.

    Args:
        path: as the book stores it.
        state: what was found.
        recorded: SHA-256 that the book has for it; empty for a file that is not in the book.
        found: SHA-256 of the bytes there now; empty where none could be read.
        audits: ids of the audits that held it and hold no longer because of it.
        has_other_copy: the recorded bytes were read, as recorded, at another path.
        only_seen: the path was only ever a place where a copy was come across, or a copy that is
            not needed: there are as many good ones without it as are asked for.
        sentence: what is wrong, in one sentence; empty when nothing is.
        seen: the file as it was seen, where its bytes are as recorded and its time is not, or its
            drive is connected elsewhere; None otherwise.
        found_bytes: size of what is there now; None where nothing could be read.
        noted: of a file that is not as recorded, what was; None where that cannot be told.
        good_at: path at which the recorded bytes were read, as recorded; empty for nowhere.
        known_at: path at which the book saw them and nobody looked now; empty for nowhere.
        drive: id of the drive; empty where the path alone tells the place.
        now_at: path at which it lies now, where its drive is connected elsewhere; else empty.
        now_on: that drive, as it is connected now, else as it was last; None where the path alone
            tells the place.
    """

    path: str
    state: FileState
    recorded: str
    found: str = ""
    audits: tuple[str, ...] = ()
    has_other_copy: bool = False
    only_seen: bool = False
    sentence: str = ""
    seen: FileRecord | None = None
    found_bytes: int | None = None
    noted: Noted | None = None
    good_at: str = ""
    known_at: str = ""
    drive: str = ""
    now_at: str = ""
    now_on: Volume | None = None

    @property
    def is_fine(self) -> bool:
        """Say whether the file is as recorded, or lay on a card that may be cleared."""
        return self.state in (FileState.AS_RECORDED, FileState.CARD_CLEARED)

    @property
    def is_covered(self) -> bool:
        """Say whether nothing is lost by its being away: the same bytes were read elsewhere."""
        away = self.state is FileState.NOT_CONNECTED
        retired = self.state is FileState.MISSING and self.only_seen
        return self.has_other_copy and (away or retired)


@dataclass(frozen=True)
class CopiesAnswer:
    """Are there enough good copies of the raw files?

    Args:
        files: raw files.
        needed: good copies that each file needs.
        good: good copies on different volumes that every file has.
        read: those of them that were read now.
        sentence: the answer, and where the copies lie.
        care: what has to be looked after although nothing is wrong: files with one good copy
            alone, drives that were not read for long; one sentence each.
    """

    files: int
    needed: int
    good: int
    read: int
    sentence: str
    care: tuple[str, ...] = ()

    @property
    def is_enough(self) -> bool:
        """Say whether every raw file has as many as are needed."""
        return self.good >= self.needed


@dataclass(frozen=True)
class RecheckResult:
    """The answer to "has anything changed?".

    Args:
        book: `unbroken` or `broken`.
        first_broken_entry: number of the first entry that does not fit; None when unbroken.
        book_sentence: what was found in the book.
        counts: number of files by state, only states that occur.
        files: every file looked at, sorted by path.
        audits: the latest audit of every folder that was looked at.
        entry: the entry that holds this result; None when it was not entered.
        not_entered: why it was not entered; empty when it was.
        book_only: files were not looked at.
        bytes: bytes read.
        all_files: the person wants to see every file.
        copies: how the copies of the raw files stand; None where files were not looked at.
        seals: the book held against each seal that was named.
        stamps: time stamps over its seals, where it was held against any.
        retention: until when a closed job is kept, or that this is over; empty while it is open.
    """

    book: str
    first_broken_entry: int | None
    book_sentence: str
    counts: dict[FileState, int]
    files: tuple[CheckedFile, ...]
    audits: tuple[Standing, ...] = ()
    entry: int | None = None
    not_entered: str = ""
    book_only: bool = False
    bytes: int = 0
    all_files: bool = False
    copies: CopiesAnswer | None = None
    seals: tuple[SealAnswer, ...] = ()
    stamps: tuple[Stamp, ...] = ()
    retention: str = ""

    @property
    def listed(self) -> tuple[CheckedFile, ...]:
        """Return the files to print: those not as recorded, or all when that was asked."""
        if self.all_files:
            return self.files
        return tuple(file for file in self.files if not file.is_fine)

    @property
    def state_ok(self) -> bool:
        """Say whether the book is unbroken and every file looked at is as recorded.

        A file on a drive that is not connected counts as well when the same bytes were read at
        another path, and so does a copy that was only ever come across and is gone since.
        """
        return self.is_book_right and all(file.is_fine or file.is_covered for file in self.files)

    @property
    def is_book_right(self) -> bool:
        """Say whether the book is unbroken and fits every seal that it was held against."""
        return (
            self.book == "unbroken"
            and all(seal.holds for seal in self.seals)
            and all(stamp.holds for stamp in self.stamps)
        )

    @property
    def are_forged_alone(self) -> bool:
        """Say whether no seal but such as are not genuine has anything against the book."""
        wrong = {seal.state for seal in self.seals if not seal.holds}
        return wrong == {SealState.NOT_GENUINE}

    @property
    def is_incomplete(self) -> bool:
        """Say whether nothing is wrong except drives that are not connected."""
        return (
            not self.state_ok
            and self.is_book_right
            and all(
                file.is_fine or file.state is FileState.NOT_CONNECTED or file.is_covered
                for file in self.files
            )
        )
