"""Entering `job.toml` into the book, by every command that writes anyway."""

from __future__ import annotations

from ledger.canonical import compute_digest
from ledger.errors import UnreadableFileError
from ledger.jobfolder import SPECIFICATION_NAME
from ledger.model.entry import Draft, Kind
from ledger.store.writing import BookWriter


def enter_specification(writer: BookWriter, by: str) -> None:
    """Enter `job.toml` when its bytes are not those entered last.

    Raises:
        UnreadableFileError: it is there and the system refuses to read it.
    """
    path = writer.folder / SPECIFICATION_NAME
    try:
        content = path.read_bytes()
    except FileNotFoundError:
        return
    except OSError as error:
        raise UnreadableFileError(
            "job.toml cannot be read", found=error.strerror or str(error), where=str(path)
        ) from error
    enter_content(writer, content, by)


def enter_content(writer: BookWriter, content: bytes, by: str) -> None:
    """Enter these bytes of `job.toml` when they are not those entered last."""
    digest = compute_digest(content)
    last = writer.last(Kind.SPECIFICATION)
    if last is None or last.values.get("sha256") != digest:
        values = {"sha256": digest, "bytes": len(content)}
        writer.append(Draft(Kind.SPECIFICATION, values, by=by), blobs=(content,))
