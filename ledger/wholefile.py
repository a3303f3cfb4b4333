"""Writing a small file whole or not at all."""

from __future__ import annotations

import os
import secrets
from contextlib import suppress
from pathlib import Path

from ledger.errors import UnwritableFileError


def write_whole(path: Path, content: bytes) -> None:
    """Write a file under its name only once it is complete and on the medium.

    The folder is made where it is not there. A file of that name is replaced.

    Raises:
        UnwritableFileError: the system refused; nothing is left half-written.
    """
    part = path.with_name(f".{path.name}.{secrets.token_hex(4)}")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        try:
            with part.open("xb") as stream:
                stream.write(content)
                stream.flush()
                os.fsync(stream.fileno())
            part.replace(path)
        finally:
            with suppress(OSError):
                part.unlink(missing_ok=True)
    except OSError as error:
        raise UnwritableFileError(
            "the file cannot be written", found=error.strerror or str(error), where=str(path)
        ) from error
