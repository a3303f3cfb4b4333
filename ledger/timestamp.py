"""Time stamps over seals: the request to be sent, and the answer to be kept.

Nothing is sent by the program. The user takes the request to whoever gives time stamps, and brings
the answer back as a file.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from ledger.canonical import compute_digest
from ledger.dataclass import dataclass
from ledger.errors import MalformedFileError, UnreadableFileError, UnwritableFileError, UsageError
from ledger.model.entry import Draft, Entry, Kind
from ledger.outgoing import require_new
from ledger.sealed import FOLDER, KeptSeal, read_last_seal, read_seals
from ledger.sealing.timestamp import Token, make_request, parse_token
from ledger.shortfile import read_short_file
from ledger.stamped import WRONG, Stamp, judge_signature, read_stamp
from ledger.store.reading import Book
from ledger.store.writing import BookWriter
from ledger.wholefile import write_whole


@dataclass(frozen=True)
class RequestResult:
    """A request for a time stamp.

    Args:
        file: the request, DER.
        seal: number of the entry of the seal.
        size: entries that the seal covers.
        sha256: digest of the seal's note, which the stamp is to be made over.
    """

    file: Path
    seal: int
    size: int
    sha256: str


@dataclass(frozen=True)
class StampResult:
    """A time stamp that was kept.

    Args:
        stamp: what it says.
        is_new: whether it was entered now; the book may have had it already.
        sha256: digest of the seal's note, which it was made over.
        file: the stamp as a file beside the seal; None where it could not be written.
    """

    stamp: Stamp
    is_new: bool
    sha256: str
    file: Path | None


def request_timestamp(job: Path, target: Path) -> RequestResult:
    """Write a request for a time stamp over the last seal; nothing is entered.

    Args:
        job: the job folder, or its book.
        target: the file to write; it must not be there yet.

    Raises:
        UsageError: the book has no seal, or the file would lie where nothing is written.
        UnwritableFileError: the system refused.
        BookError: the book cannot be read.
    """
    with Book.open(job) as book:
        seal = read_last_seal(book)
        if seal is None:
            raise _refuse_unsealed(book)
        require_new(book, target)
    digest = compute_digest(seal.content)
    write_whole(target, make_request(bytes.fromhex(digest)))
    return RequestResult(target, seal.entry.seq, seal.head.size, digest)


def keep_timestamp(
    job: Path, file: Path, authority: Path | None = None, by: str = "technician"
) -> StampResult:
    """Enter a time stamp that was obtained over one of the book's seals.

    Args:
        job: the job folder, or its book.
        file: the answer (TimeStampResp) or the token in it, DER.
        authority: certificates that its signature is held against, PEM or DER; None for none, and
            the signature is then not assessed.
        by: function of the person.

    Raises:
        UsageError: it was made over something else than a seal of this book, or its signature is
            wrong.
        FileError: a file cannot be read, or is something else.
        BookError: the book cannot be used.
    """
    token = _parse(file)
    trusted = None if authority is None else _read(authority, "the certificate")
    with BookWriter.open(job) as writer:
        seal = _find_seal(writer, token, file)
        signature, told = judge_signature(token, trusted)
        if signature == WRONG:
            raise UsageError(
                "the signature of the time stamp is wrong, or not by the authority that was named",
                found=told,
                where=str(file),
                remedy="name the root certificate of whoever made it with --authority",
            )
        values: dict[str, object] = {
            "seal": seal.entry.seq,
            "token": compute_digest(token.token),
            "moment": token.moment,
            "policy": token.policy,
            "serial": str(token.serial),
            "authority": "" if trusted is None else compute_digest(trusted),
        }
        known = _find_known(writer, values)
        blobs = (token.token,) if trusted is None else (token.token, trusted)
        entry = known or writer.append(Draft(Kind.TIMESTAMP, values, by=by), blobs)
        stamp = read_stamp(writer, entry)
        place = writer.folder / FOLDER / f"seal-{seal.head.size:06}.timestamp"
    return StampResult(stamp, known is None, compute_digest(seal.content), _write(place, token))


def _find_known(book: Book, values: dict[str, object]) -> Entry | None:
    """Return the last entry of the same stamp that says no less; None for none."""
    same = [
        entry
        for entry in book.entries(Kind.TIMESTAMP)
        if (entry.values["seal"], entry.values["token"]) == (values["seal"], values["token"])
    ]
    if not same or values["authority"] not in ("", same[-1].values["authority"]):
        return None
    return same[-1]


def _find_seal(book: Book, token: Token, file: Path) -> KeptSeal:
    """Return the seal that a token was made over."""
    seals = read_seals(book)
    if not seals:
        raise _refuse_unsealed(book)
    for seal in reversed(seals):
        if compute_digest(seal.content) == token.imprint.hex():
            return seal
    raise UsageError(
        "the time stamp was made over something else than a seal of this book",
        found=f"sha256 {token.imprint.hex()}",
        expected=f"sha256 {compute_digest(seals[-1].content)}, of the last seal",
        where=str(file),
        remedy="swathbook seal --request FILE writes what it has to be made over",
    )


def _refuse_unsealed(book: Book) -> UsageError:
    return UsageError(
        "a time stamp is made over a seal, and this book has none",
        where=str(book.path),
        remedy="swathbook seal",
    )


def _parse(file: Path) -> Token:
    try:
        return parse_token(_read(file, "the time stamp"))
    except MalformedFileError as error:
        placed = tuple(replace(fault, where=str(file)) for fault in error.faults)
        raise MalformedFileError.from_faults(placed) from None


def _read(path: Path, what: str) -> bytes:
    if not path.is_file():
        raise UnreadableFileError(f"{what} cannot be read", found="no file", where=str(path))
    return read_short_file(path, what)


def _write(path: Path, token: Token) -> Path | None:
    """Leave the stamp beside the seal; the book holds it, so that a full disk is no loss."""
    try:
        write_whole(path, token.token)
    except UnwritableFileError:
        return None
    return path
