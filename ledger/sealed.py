"""The seals that a book holds, and the name by which a seal knows its book."""

from __future__ import annotations

from pathlib import Path

from ledger.dataclass import dataclass
from ledger.errors import MalformedFileError
from ledger.merkle import hash_leaf
from ledger.model.entry import Entry, Kind
from ledger.sealing.note import Note, PublicKey, parse_note, parse_public_key
from ledger.sealing.treehead import TreeHead, make_origin, parse_tree_head
from ledger.store.reading import Book

FOLDER = "seals"


@dataclass(frozen=True)
class KeptSeal:
    """A seal as an entry keeps it.

    Args:
        entry: the entry.
        content: the signed note as it was written, UTF-8.
        note: the same, read.
        head: what it signs.
        key: public key that it was made with.
    """

    entry: Entry
    content: bytes
    note: Note
    head: TreeHead
    key: PublicKey

    @property
    def closes(self) -> str:
        """Return until when a job that this seal closed is kept, ISO date; empty for none."""
        return str(self.entry.values["keep_until"] or "")


def read_seals(book: Book) -> tuple[KeptSeal, ...]:
    """Return the seals of a book, oldest first.

    Raises:
        MalformedFileError: an entry holds something that is no seal.
        BookError: the book cannot be read.
    """
    return tuple(_read(book, entry) for entry in book.entries(Kind.SEAL))


def read_last_seal(book: Book) -> KeptSeal | None:
    """Return the newest seal of a book; None when it has none."""
    entry = book.last(Kind.SEAL)
    return None if entry is None else _read(book, entry)


def find_unfit_seals(book: Book) -> tuple[tuple[Path, TreeHead], ...]:
    """Return the seals in the book's own folder that it does not fit, though they are of it.

    Its end was lost, or it went another way since; whether a seal is genuine is not asked. A file
    that is no seal, or of another book, shows nothing and is left out.
    """
    unfit = []
    for path in sorted((book.folder / FOLDER).glob("seal-*.txt")):
        try:
            head = parse_tree_head(parse_note(path.read_bytes()).text)
        except (OSError, MalformedFileError):
            continue
        if head.origin == find_origin(book) and book.root_at(head.size) != head.root:
            unfit.append((path, head))
    return tuple(unfit)


def _read(book: Book, entry: Entry) -> KeptSeal:
    content = book.blob(str(entry.values["note"]))
    note = parse_note(content)
    return KeptSeal(
        entry,
        content,
        note,
        parse_tree_head(note.text),
        parse_public_key(str(entry.values["key"])),
    )


def find_origin(book: Book) -> str:
    """Return the name by which seals know a book.

    Raises:
        MalformedFileError: the book holds no entry yet.
    """
    for body in book.bodies():
        return make_origin(hash_leaf(body))
    raise MalformedFileError("an empty book cannot be sealed", where=str(book.path))


def format_root(root: bytes) -> str:
    """Return a root in groups of four hex digits, as it is printed and read over a telephone."""
    digits = root.hex()
    return " ".join(digits[place : place + 4] for place in range(0, len(digits), 4))
