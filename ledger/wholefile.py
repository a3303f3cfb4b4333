"""Writing a file whole or not at all."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from ledger.errors import UnwritableFileError, UsageError

PART_SUFFIX = ".swathbook-part"
"""Ends the working name of a file that is not whole yet."""


@contextmanager
def replacing(path: Path) -> Iterator[Path]:
    """Give a working name beside a file; what is written under it becomes the file at the end.

    It gets its name only once it is on the medium. The folder is made where it is not there, and a
    file of that name is replaced. Where something goes wrong, the old file stays and nothing else;
    what a pulled drive left of an earlier attempt is taken away.

    Raises:
        OSError: the system refused.
    """
    part = path.with_name(f"{path.name}{PART_SUFFIX}")
    path.parent.mkdir(parents=True, exist_ok=True)
    part.unlink(missing_ok=True)
    try:
        yield part
        with part.open("rb+") as stream:
            os.fsync(stream.fileno())
        part.replace(path)
    finally:
        with suppress(OSError):
            part.unlink(missing_ok=True)


def write_whole(path: Path, content: bytes) -> None:
    """Write a small file, replacing one of that name.

    Raises:
        UnwritableFileError: the system refused; nothing is left half-written.
    """
    try:
        with replacing(path) as part, part.open("xb") as stream:
            stream.write(content)
    except OSError as error:
        raise _explain(error, path) from error


def write_new(path: Path, content: bytes) -> None:
    """Write a small file where there is none.

    Raises:
        UsageError: a file lies there already; it was left as it is.
        UnwritableFileError: the system refused; nothing is left half-written.
    """
    try:
        with path.open("xb") as stream:
            try:
                stream.write(content)
                stream.flush()
                os.fsync(stream.fileno())
            except OSError:
                with suppress(OSError):
                    path.unlink()
                raise
    except FileExistsError:
        raise UsageError(
            "a file lies there already, and is not written over",
            where=str(path),
            remedy="name another one",
        ) from None
    except OSError as error:
        raise _explain(error, path) from error


def _explain(error: OSError, path: Path) -> UnwritableFileError:
    return UnwritableFileError(
        "the file cannot be written",
        found=error.strerror or str(error),
        where=str(path),
        remedy="name a folder that is there and takes files",
    )
