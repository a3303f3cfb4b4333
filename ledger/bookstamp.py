"""Whether a book is still the very file that was last read whole and found unbroken.

Reading a whole book takes longer the more it holds. Where nothing has happened to the file since,
a quick look need not read it again. What lies in the scratch folder may be lost: then the book is
read once more.

Invariants:

- A stamp holds the count of changes that SQLite keeps in the file itself, beside size, time and
  identity, so that a change within one tick of the clock is seen.
- A stamp is kept only of a file that was read whole, or to which nobody but Swathbook has added
  since it was.
- A stamp is read while no connection of this process is inside a transaction: closing a file gives
  up every lock that the process has on it ("How To Corrupt An SQLite Database File", 2.2).
"""

from __future__ import annotations

import os
from contextlib import suppress
from pathlib import Path

from ledger.dataclass import dataclass
from ledger.jobfolder import SCRATCH_NAME

_NAME = "book.unbroken"
# Database file format of SQLite, 1.3: the header has 100 bytes, the file change counter is a number
# of four bytes from the 24th on.
_COUNTER = slice(24, 28)
_HEADER_BYTES = 100


@dataclass(frozen=True)
class BookStamp:
    """What tells one state of a book file from another; empty where it cannot be read.

    Args:
        text: size, time, identity and count of changes.
    """

    text: str

    @classmethod
    def read(cls, book: Path) -> BookStamp:
        """Return the stamp of a book file as it is now."""
        try:
            with book.open("rb") as stream:
                status = os.fstat(stream.fileno())
                counter = stream.read(_HEADER_BYTES)[_COUNTER]
        except OSError:
            return cls("")
        place = f"{status.st_dev}:{status.st_ino}"
        return cls(f"{status.st_size} {status.st_mtime_ns} {place} {counter.hex()}")

    def is_kept(self, job: Path) -> bool:
        """Say whether this is the state that was kept."""
        try:
            kept = (job / SCRATCH_NAME / _NAME).read_text(encoding="utf-8")
        except (OSError, UnicodeDecodeError):
            return False
        return bool(self.text) and kept == self.text

    def keep(self, job: Path) -> None:
        """Keep this state as unbroken; where nothing can be written, it is read again next time."""
        with suppress(OSError):
            (job / SCRATCH_NAME).mkdir(exist_ok=True)
            (job / SCRATCH_NAME / _NAME).write_text(self.text, encoding="utf-8")
