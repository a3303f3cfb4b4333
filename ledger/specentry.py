"""`job.toml` and the book: entered by every command that writes anyway, and copied with it."""

from __future__ import annotations

import os
from pathlib import Path

from ledger.canonical import compute_digest
from ledger.copying import explain_failure
from ledger.errors import BookError
from ledger.jobfolder import SPECIFICATION_NAME
from ledger.model.entry import Draft, Entry, Kind
from ledger.settings.typedtext import require_no_secret
from ledger.shortfile import read_short_file
from ledger.store.reading import Book
from ledger.store.writing import Addition, BookWriter
from ledger.wholefile import replacing


def enter_specification(writer: BookWriter, by: str) -> None:
    """Enter `job.toml` when its bytes are not those entered last.

    Raises:
        UnreadableFileError: it is there and the system refuses to read it.
        UsageError: a line of it looks like a password.
    """
    additions = draft_specification(writer, by)
    if additions:  # with nothing to enter, a book that takes no entries is no fault
        writer.append_all(additions)


def enter_content(writer: BookWriter, content: bytes, by: str) -> Entry:
    """Enter these bytes of `job.toml` when they are not those entered last.

    Returns:
        The entry that holds them: who entered it answers for what it says.

    Raises:
        UsageError: a line of them looks like a password.
    """
    last = writer.last(Kind.SPECIFICATION)
    if last is not None and last.values.get("sha256") == compute_digest(content):
        return last
    return writer.append_all([_draft(content, by)])[0]


def draft_specification(writer: BookWriter, by: str) -> tuple[Addition, ...]:
    """Return the entry of `job.toml`; nothing when its bytes are those entered last.

    Raises:
        UnreadableFileError: it is there and the system refuses to read it.
        UsageError: a line of it looks like a password.
    """
    path = writer.folder / SPECIFICATION_NAME
    if not os.path.lexists(path):
        return ()
    content = read_short_file(path, SPECIFICATION_NAME)
    last = writer.last(Kind.SPECIFICATION)
    is_entered = last is not None and last.values.get("sha256") == compute_digest(content)
    return () if is_entered else (_draft(content, by),)


def copy_specification(job: Path, folder: Path) -> None:
    """Write `job.toml` as it was entered last beside a copy of the book: work goes on there.

    Args:
        job: the job folder.
        folder: the folder that the book was copied to.

    Raises:
        BookError: a `job.toml` lies there that this book never held; it is left as it is.
        UnwritableFileError: it cannot be written.
    """
    with Book.open(job) as book:
        entered = [str(entry.values["sha256"]) for entry in book.entries(Kind.SPECIFICATION)]
        content = book.blob(entered[-1]) if entered else b""
    target = folder / SPECIFICATION_NAME
    if not entered:
        return
    try:
        if target.exists() and compute_digest(target.read_bytes()) not in entered:
            raise BookError(
                "another job.toml lies there; it was left as it is",
                where=str(target),
                remedy="look which of them is right, and move the other away",
            )
        with replacing(target) as part:
            part.write_bytes(content)
    except OSError as error:
        raise explain_failure(error, target, SPECIFICATION_NAME) from error


def _draft(content: bytes, by: str) -> Addition:
    for number, line in enumerate(content.decode("utf-8", "replace").splitlines(), start=1):
        require_no_secret(line, f"{SPECIFICATION_NAME} line {number}")
    values = {"sha256": compute_digest(content), "bytes": len(content)}
    return Addition(Draft(Kind.SPECIFICATION, values, by=by), (content,))
