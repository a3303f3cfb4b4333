"""The time stamps that a book holds, each over one of its seals."""

from __future__ import annotations

from ledger.canonical import compute_digest
from ledger.dataclass import dataclass
from ledger.errors import MalformedFileError
from ledger.loading import load_part
from ledger.model.entry import Entry, Kind
from ledger.sealing.timestamp import Token, parse_token
from ledger.store.reading import Book

EXTRA = "swathbook[timestamp]"
"""What has to be installed so that signatures of time stamps can be checked."""


@dataclass(frozen=True)
class Stamp:
    """A time stamp as it stands now.

    Args:
        entry: number of the entry that keeps it.
        seal: number of the entry of the seal that it was made over.
        size: entries which that seal covers.
        moment: its time, UTC, RFC 3339, by the clock of whoever made it.
        holds: whether it was made over that seal, and no signature was found wrong.
        signature: `right`, `wrong`, or `not assessed`.
        told: the same in words, with why.
    """

    entry: int
    seal: int
    size: int
    moment: str
    holds: bool
    signature: str
    told: str

    @property
    def sentence(self) -> str:
        """Return what it says, in words."""
        if not self.holds and self.signature != "wrong":
            return f"Time stamp of entry {self.entry}: {self.told}."
        return (
            f"Time stamp over the seal up to entry {self.size}: {self.moment}, by the clock of "
            f"whoever made it. Its signature: {self.told}."
        )


RIGHT, WRONG, NOT_ASSESSED = "right", "wrong", "not assessed"


def judge_signature(token: Token, authority: bytes | None) -> tuple[str, str]:
    """Return whether the signature of a token is right, and in words why.

    Args:
        token: the token.
        authority: certificates that the user named; None where none were.

    Raises:
        MalformedFileError: they are no certificates.
    """
    if authority is None:
        why = "no certificate of the authority was named (seal --timestamp FILE --authority FILE)"
        return NOT_ASSESSED, f"{NOT_ASSESSED}, {why}"
    try:
        find_fault = load_part("ledger.sealing.timecheck", "find_fault")
    except ModuleNotFoundError:
        return NOT_ASSESSED, f'{NOT_ASSESSED}, it needs pip install "{EXTRA}"'
    fault = str(find_fault(token, authority))
    if fault:
        return WRONG, f"{WRONG}, {fault}"
    return RIGHT, (
        f"{RIGHT}, by the certificate that was named, sha256 {compute_digest(authority)[:12]}; "
        "whether it was revoked was not looked up"
    )


def read_stamps(book: Book) -> tuple[Stamp, ...]:
    """Return every time stamp of a book, read and judged anew, oldest first.

    One that was entered again, with a certificate this time, is told by its last entry.

    Raises:
        BookError: the book cannot be read.
    """
    latest = {
        (entry.values["seal"], entry.values["token"]): entry
        for entry in book.entries(Kind.TIMESTAMP)
    }
    return tuple(read_stamp(book, entry) for entry in latest.values())


def read_stamp(book: Book, entry: Entry) -> Stamp:
    """Return the time stamp of one entry, judged anew.

    Raises:
        BookError: the book holds its parts no more.
    """
    values = entry.values
    seal = book.entry(int(values["seal"]))
    is_sealed = seal is not None and seal.kind == Kind.SEAL
    size = int(seal.values["size"]) if seal is not None and is_sealed else 0
    parts = (entry.seq, int(values["seal"]), size)
    named = str(values["authority"])
    try:
        token = parse_token(book.blob(str(values["token"])))
        signature, told = judge_signature(token, book.blob(named) if named else None)
    except MalformedFileError as error:
        return Stamp(*parts, "", holds=False, signature=NOT_ASSESSED, told=error.faults[0].what)
    if (
        seal is None
        or not is_sealed
        or token.imprint.hex() != compute_digest(book.blob(str(seal.values["note"])))
    ):
        told = "it was not made over the seal that its entry names"
        return Stamp(*parts, token.moment, holds=False, signature=NOT_ASSESSED, told=told)
    return Stamp(*parts, token.moment, holds=signature != WRONG, signature=signature, told=told)
