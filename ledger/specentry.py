"""Entering `job.toml` into the book, by every command that writes anyway."""

from __future__ import annotations

import os

from ledger.canonical import compute_digest
from ledger.jobfolder import SPECIFICATION_NAME
from ledger.model.entry import Draft, Entry, Kind
from ledger.shortfile import read_short_file
from ledger.store.writing import Addition, BookWriter


def enter_specification(writer: BookWriter, by: str) -> None:
    """Enter `job.toml` when its bytes are not those entered last.

    Raises:
        UnreadableFileError: it is there and the system refuses to read it.
    """
    additions = draft_specification(writer, by)
    if additions:  # with nothing to enter, a book that takes no entries is no fault
        writer.append_all(additions)


def enter_content(writer: BookWriter, content: bytes, by: str) -> Entry:
    """Enter these bytes of `job.toml` when they are not those entered last.

    Returns:
        The entry that holds them: who entered it answers for what it says.
    """
    last = writer.last(Kind.SPECIFICATION)
    if last is not None and last.values.get("sha256") == compute_digest(content):
        return last
    return writer.append_all([_draft(content, by)])[0]


def draft_specification(writer: BookWriter, by: str) -> tuple[Addition, ...]:
    """Return the entry of `job.toml`; nothing when its bytes are those entered last.

    Raises:
        UnreadableFileError: it is there and the system refuses to read it.
    """
    path = writer.folder / SPECIFICATION_NAME
    if not os.path.lexists(path):
        return ()
    content = read_short_file(path, SPECIFICATION_NAME)
    last = writer.last(Kind.SPECIFICATION)
    is_entered = last is not None and last.values.get("sha256") == compute_digest(content)
    return () if is_entered else (_draft(content, by),)


def _draft(content: bytes, by: str) -> Addition:
    values = {"sha256": compute_digest(content), "bytes": len(content)}
    return Addition(Draft(Kind.SPECIFICATION, values, by=by), (content,))
