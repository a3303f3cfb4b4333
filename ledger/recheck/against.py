"""Is the book still the one that a seal, or a printed root, was made of?

A book that is unbroken in itself may have been cut off at its end, or rewritten from some entry on
with new roots. Either shows only against a root that was kept elsewhere.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from enum import StrEnum
from pathlib import Path

from ledger.dataclass import dataclass
from ledger.errors import MalformedFileError, SwathbookError, UnreadableFileError, UsageError
from ledger.loading import load_part
from ledger.merkle import HASH_SIZE
from ledger.model.phrases import count_things
from ledger.sealed import find_origin, read_seals
from ledger.sealing.note import Note, PublicKey, parse_note, parse_public_key
from ledger.sealing.treehead import TreeHead, parse_tree_head
from ledger.store.checking import BookState
from ledger.store.machine import find_home
from ledger.store.reading import Book

_ROOT = re.compile(rf"[0-9a-fA-F]{{{2 * HASH_SIZE}}}")
_BETWEEN = re.compile(r"[\s\-:]+")  # how digits are parted on paper and over a telephone


class SealState(StrEnum):
    """What holding a book against a seal gave."""

    HOLDS = "holds"
    ROLLED_BACK = "entries are missing"
    FORKED = "other entries"
    OTHER_BOOK = "another book"
    NOT_GENUINE = "not genuine"


@dataclass(frozen=True)
class SealAnswer:
    """A book held against one seal.

    Args:
        seal: the file, or the root as it was typed.
        state: what came out.
        sentence: the same in words.
        size: number of entries that the seal covers; None where nothing tells.
        later: entries of the book after those.
        signature: who vouches for the seal itself, in words; empty for a typed root.
    """

    seal: str
    state: SealState
    sentence: str
    size: int | None
    later: int = 0
    signature: str = ""

    @property
    def holds(self) -> bool:
        """Say whether the book is the one that was sealed, grown since or not."""
        return self.state is SealState.HOLDS


def hold_against(
    book: Book, state: BookState, seals: Iterable[str], keys: Iterable[str]
) -> tuple[SealAnswer, ...]:
    """Return what holding a book against each seal gives.

    Args:
        book: an open book.
        state: what reading its every row gave; only entries that fit are taken for the book.
        seals: names of files that hold a seal, or roots of 64 hex digits in any grouping.
        keys: public keys that the user trusts: each the line, or the name of a file with it.

    Raises:
        UsageError: a seal is neither a file nor a root.
        MalformedFileError: a file holds no seal, or a key is none.
        UnreadableFileError: the system refused.
    """
    trusted = _list_keys(book, keys)
    return tuple(_hold(book, state, seal, trusted) for seal in seals)


def _hold(
    book: Book, state: BookState, seal: str, trusted: tuple[tuple[PublicKey, str], ...]
) -> SealAnswer:
    digits = _BETWEEN.sub("", seal)
    if _ROOT.fullmatch(digits):
        return _hold_root(book, state, seal, bytes.fromhex(digits))
    note = parse_note(_read(Path(seal)))
    head = parse_tree_head(note.text)
    genuine, told = _judge_signature(note, trusted)
    if not genuine:
        what = "the signature of the seal is wrong: its text was altered, or it is a forgery"
        return SealAnswer(seal, SealState.NOT_GENUINE, what, head.size, 0, told)
    return _hold_head(book, state, seal, head, told)


def _hold_root(book: Book, state: BookState, seal: str, root: bytes) -> SealAnswer:
    size = book.find_root(root)
    if size is None or size > state.entries:
        what = (
            "no entry of this book ended with that root: entries are missing, others stand in "
            "their place, it is another book, or a digit was misread"
        )
        return SealAnswer(seal, SealState.FORKED, what, None)
    return _report_held(seal, size, state.entries - size, "")


def _hold_head(book: Book, state: BookState, seal: str, head: TreeHead, told: str) -> SealAnswer:
    if head.origin != find_origin(book):
        what = "the seal was made of another book: the first entries differ"
        return SealAnswer(seal, SealState.OTHER_BOOK, what, head.size, 0, told)
    if head.size > state.entries:
        missing = count_things(head.size - state.entries, "entry", "entries")
        what = (
            f"the seal covers {count_things(head.size, 'entry', 'entries')}, this book has "
            f"{state.entries} that fit: {missing} missing at the end"
        )
        return SealAnswer(seal, SealState.ROLLED_BACK, what, head.size, 0, told)
    if book.root_at(head.size) != head.root:
        what = f"other entries stand up to entry {head.size} than were sealed"
        return SealAnswer(seal, SealState.FORKED, what, head.size, 0, told)
    return _report_held(seal, head.size, state.entries - head.size, told)


def _report_held(seal: str, size: int, later: int, told: str) -> SealAnswer:
    what = f"{count_things(size, 'entry', 'entries')} as sealed, {later} after the seal"
    return SealAnswer(seal, SealState.HOLDS, what, size, later, told)


def _read(path: Path) -> bytes:
    try:
        return path.read_bytes()
    except FileNotFoundError:
        raise UsageError(
            "this is neither the file of a seal nor a root",
            found=str(path)[:80],
            expected="a file, or 64 digits in groups of four",
            where="--against",
        ) from None
    except OSError as error:
        raise UnreadableFileError(
            "the seal cannot be read", found=error.strerror or str(error), where=str(path)
        ) from error


def _list_keys(book: Book, keys: Iterable[str]) -> tuple[tuple[PublicKey, str], ...]:
    """Return public keys, each with how it is known: the most independent first."""
    named = [(_parse_key(text), "the key that was named") for text in keys]
    office: PublicKey | None = load_part("ledger.sealing.keys", "find_public_key")(find_home())
    mine = [(office, "the key of this computer's office")] if office is not None else []
    try:
        kept = [(seal.key, "a key known from this book alone") for seal in read_seals(book)]
    except SwathbookError:  # a broken book tells no keys, and is still held against the seal
        kept = []
    return tuple({key: (key, told) for key, told in reversed([*named, *mine, *kept])}.values())


def _parse_key(text: str) -> PublicKey:
    try:
        return parse_public_key(text)
    except MalformedFileError:
        path = Path(text)
        if not path.is_file():
            raise
    try:
        return parse_public_key(path.read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError) as error:
        raise UnreadableFileError(
            "the public key cannot be read", found=str(error), where=text
        ) from error


def _judge_signature(note: Note, trusted: tuple[tuple[PublicKey, str], ...]) -> tuple[bool, str]:
    """Say whether a seal may be genuine, and who vouches for it."""
    verify = load_part("ledger.sealing.keys", "is_signed_by")
    for key, told in trusted:
        right = verify(note, key)
        if right is not None:
            return right, f"{'signed' if right else 'not signed'} with {told}, {key.name}"
    names = ", ".join(each.name for each in note.signatures)
    return True, f"nobody here knows the key {names}, so its signature was not checked"
