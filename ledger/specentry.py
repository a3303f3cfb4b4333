"""Entering `job.toml` into the book, by every command that writes anyway."""

from __future__ import annotations

import os

from ledger.canonical import compute_digest
from ledger.jobfolder import SPECIFICATION_NAME
from ledger.model.entry import Draft, Entry, Kind
from ledger.shortfile import read_short_file
from ledger.store.writing import BookWriter


def enter_specification(writer: BookWriter, by: str) -> None:
    """Enter `job.toml` when its bytes are not those entered last.

    Raises:
        UnreadableFileError: it is there and the system refuses to read it.
    """
    path = writer.folder / SPECIFICATION_NAME
    if os.path.lexists(path):
        enter_content(writer, read_short_file(path, SPECIFICATION_NAME), by)


def enter_content(writer: BookWriter, content: bytes, by: str) -> Entry:
    """Enter these bytes of `job.toml` when they are not those entered last.

    Returns:
        The entry that holds them: who entered it answers for what it says.
    """
    digest = compute_digest(content)
    last = writer.last(Kind.SPECIFICATION)
    if last is None or last.values.get("sha256") != digest:
        values = {"sha256": digest, "bytes": len(content)}
        return writer.append(Draft(Kind.SPECIFICATION, values, by=by), blobs=(content,))
    return last
