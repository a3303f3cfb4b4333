"""Sealing a book: its size and root, signed with the office's key.

Invariants:

- A broken book is never sealed: every row is read first.
- A seal covers the entries before it. It is then entered itself, so that the book knows its seals.
- What the last seal covers has to stand unchanged below the new one; the proof of that is kept.
- No seal is written over one in the job's folder that the book does not fit: that one is evidence.

What a seal proves: that none of these entries was altered, left out or put in later. It says
nothing of whether they are true, and of a date only once somebody else holds it.
"""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date
from pathlib import Path

from ledger.canonical import compute_digest
from ledger.dataclass import dataclass
from ledger.deliverables import draft_deliverables
from ledger.errors import BrokenBookError, UnwritableFileError, UsageError
from ledger.merkle import compute_consistency_proof
from ledger.model.ask import NoProgress, Progress
from ledger.model.entry import Draft, Kind
from ledger.sealed import FOLDER, KeptSeal, find_origin, find_unfit_seals, read_last_seal
from ledger.sealing.keys import (
    AskPassphrase,
    find_public_key,
    has_private_key,
    make_key,
    restore_public_key,
    sign,
)
from ledger.sealing.note import PublicKey
from ledger.sealing.treehead import TreeHead
from ledger.stamped import Stamp, read_stamps
from ledger.store.machine import find_home
from ledger.store.reading import Book
from ledger.store.writing import BookWriter
from ledger.wholefile import write_whole

_SILENT = NoProgress()
_DAY = re.compile(r"\d{4}-\d{2}-\d{2}")


@dataclass(frozen=True)
class SealResult:
    """What a seal says.

    Args:
        entry: number of the entry that keeps the seal.
        head: what was signed.
        key: the office's public key.
        is_new: whether it was made now; else nothing was entered since the last one.
        made_key: whether the office's key was made now, at its first use.
        is_locked: whether a key made now is encrypted with a passphrase.
        home: folder that holds the key.
        file: the seal as a file, to be handed on; None where it could not be written.
        not_written: why it could not; empty when it could.
        since: number of entries that the seal before covers; 0 for the first seal.
        consistency: proof (RFC 9162) that those stand unchanged below this one; empty for none.
        deliverables: ids that got an entry of their own, so that receipts can be made.
        keep_until: until when the closed job is kept, ISO date; empty while it is open.
        stamps: time stamps over this seal, where it was made before.
    """

    entry: int
    head: TreeHead
    key: PublicKey
    is_new: bool
    made_key: bool
    is_locked: bool
    home: Path
    file: Path | None
    not_written: str
    since: int
    consistency: tuple[bytes, ...]
    deliverables: tuple[str, ...]
    keep_until: str
    stamps: tuple[Stamp, ...] = ()


def seal_book(
    job: Path,
    ask: AskPassphrase,
    *,
    keep_until: str = "",
    by: str = "technician",
    progress: Progress = _SILENT,
) -> SealResult:
    """Seal a book as it stands, and enter the seal.

    Args:
        job: the job folder, or its book.
        ask: asked for the passphrase of the office's key.
        keep_until: closes the job, to be kept until this day, ISO date; empty leaves it open.
        by: function of the person.
        progress: told the bytes of the book that were read.

    Raises:
        BookError: the book is broken, held, or cannot be opened.
        UsageError: the day is none, or the passphrase is wrong.
        FileError: the office's key cannot be read or kept.
    """
    _require_day(keep_until)
    home = find_home()
    with Book.open(job) as book:
        _require_unbroken(book, progress)
        last = read_last_seal(book)
        if last is not None:
            _require_grown(book, last)
        _require_seals_fit(book)
        if last is not None and not keep_until and _is_last_entry(book, last):
            stamps = tuple(s for s in read_stamps(book) if s.seal == last.entry.seq)
            return replace(_report_again(book, last, home), stamps=stamps)
    with BookWriter.open(job) as writer:
        key, fresh = _find_key(home, ask)
        return _seal(writer, last, _Signer(home, key, fresh, ask), (keep_until, by))


@dataclass(frozen=True)
class _Signer:
    """The office's key at work.

    Args:
        home: folder that holds it.
        key: its public half.
        fresh: passphrase of a key that was made now; None for an old one.
        ask: asked for that of an old one.
    """

    home: Path
    key: PublicKey
    fresh: str | None
    ask: AskPassphrase

    def sign(self, text: str) -> bytes:
        """Return the signed note, UTF-8."""
        note = sign(self.home, text, lambda moment: self.fresh or self.ask(moment))
        return note.to_text().encode()


def _seal(
    writer: BookWriter, last: KeptSeal | None, signer: _Signer, said: tuple[str, str]
) -> SealResult:
    keep_until, by = said
    named = draft_deliverables(writer, by)
    if named:
        writer.append_all(named)
    head = TreeHead(find_origin(writer), writer.size, writer.root)
    content = signer.sign(head.to_text())
    since = last.head.size if last is not None else 0
    proof = compute_consistency_proof(since, head.size, writer.node) if since else ()
    values = {
        "size": head.size,
        "root": head.root.hex(),
        "note": compute_digest(content),
        "key": signer.key.text,
        "since": since,
        "consistency": [part.hex() for part in proof],
        "keep_until": keep_until,
    }
    entry = writer.append(Draft(Kind.SEAL, values, by=by), (content,))
    file, fault = _write(writer.folder, head, content)
    return SealResult(
        entry=entry.seq,
        head=head,
        key=signer.key,
        is_new=True,
        made_key=signer.fresh is not None,
        is_locked=bool(signer.fresh),
        home=signer.home,
        file=file,
        not_written=fault,
        since=since,
        consistency=proof,
        deliverables=tuple(str(each.draft.values["deliverable"]) for each in named),
        keep_until=keep_until,
    )


def _find_key(home: Path, ask: AskPassphrase) -> tuple[PublicKey, str | None]:
    """Return the office's key, and the passphrase of one that was made now; None for an old one."""
    known = find_public_key(home)
    if known is not None:
        return known, None
    if has_private_key(home):  # another seal is making it now, or was ended in between
        return restore_public_key(home, ask), None
    passphrase = ask("make")
    return make_key(home, passphrase), passphrase


def _require_day(text: str) -> None:
    if not text:
        return
    try:
        day = date.fromisoformat(text) if _DAY.fullmatch(text) else None
    except ValueError:
        day = None
    if day is None:
        raise UsageError(
            "this is no day until which a job is kept",
            found=text,
            expected="year-month-day: 2036-12-31",
            where="--keep-until",
        )


def _require_unbroken(book: Book, progress: Progress) -> None:
    state = book.check(progress)
    if not state.unbroken:
        raise BrokenBookError(
            "a broken book cannot be sealed",
            found=state.sentence,
            where=str(book.path),
            remedy="swathbook recheck --book-only",
        )


def _require_grown(book: Book, last: KeptSeal) -> None:
    """Refuse a book whose own last seal no longer fits it: it was rewritten with new roots."""
    sealed = book.root_at(last.head.size)
    if sealed != last.head.root:
        raise BrokenBookError(
            "the book is not the one that was sealed",
            found=f"another root after entry {last.head.size} than the seal of entry "
            f"{last.entry.seq} says",
            where=str(book.path),
            remedy="keep this file and fetch the book from a copy that the seal fits",
        )


def _require_seals_fit(book: Book) -> None:
    """Refuse a book that seals in its own folder do not fit: its end was lost, or it was forked.

    A new seal of the same size would take the place of the file that shows it.
    """
    for path, head in find_unfit_seals(book):
        raise BrokenBookError(
            "the book is not the one that was sealed",
            found=f"another root, or none, after entry {head.size} than {path.name} says",
            where=str(book.path),
            remedy="swathbook recheck --book-only",
        )


def _is_last_entry(book: Book, last: KeptSeal) -> bool:
    """Say whether nothing but time stamps came after a seal, and nothing before it uncovered."""
    later = book.entries(since=last.entry.seq + 1)
    return last.entry.seq == last.head.size + 1 and all(e.kind == Kind.TIMESTAMP for e in later)


def _report_again(book: Book, last: KeptSeal, home: Path) -> SealResult:
    file, fault = _write(book.folder, last.head, last.content)
    return SealResult(
        entry=last.entry.seq,
        head=last.head,
        key=last.key,
        is_new=False,
        made_key=False,
        is_locked=False,
        home=home,
        file=file,
        not_written=fault,
        since=int(last.entry.values["since"]),
        consistency=tuple(bytes.fromhex(part) for part in last.entry.values["consistency"]),
        deliverables=(),
        keep_until=last.closes,
    )


def _write(folder: Path, head: TreeHead, content: bytes) -> tuple[Path | None, str]:
    """Write the seal as a file; the book holds it, so that a full disk is no loss."""
    path = folder / FOLDER / f"seal-{head.size:06}.txt"
    try:
        write_whole(path, content)
    except UnwritableFileError as error:
        return None, str(error)
    return path, ""
