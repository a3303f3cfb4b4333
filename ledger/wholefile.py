"""Writing a file whole or not at all, and making names last.

A file that was waited for may still be without its name after a power cut: names belong to their
folder, which has to be waited for as well, and a new folder is a name in the one above it.
"""

from __future__ import annotations

import errno
import os
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from ledger.errors import UnwritableFileError, UsageError

PART_SUFFIX = ".swathbook-part"
"""Ends the working name of a file that is not whole yet."""

# What file systems without such a wait answer: shares, and drives through a helper program.
_WAITS_FOR_NO_FOLDER = (errno.EINVAL, errno.ENOTSUP, errno.ENOSYS)


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
    make_folder(path.parent)
    part.unlink(missing_ok=True)
    try:
        yield part
        with part.open("rb+") as stream:
            os.fsync(stream.fileno())
        part.replace(path)
        flush_folder(path.parent)
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
                flush_folder(path.parent)
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


def make_folder(folder: Path) -> None:
    """Make a folder, and those above it, where they are absent; wait for their names.

    Raises:
        OSError: the system refused.
    """
    absent = [each for each in (folder, *folder.parents) if not os.path.isdir(each)]
    folder.mkdir(parents=True, exist_ok=True)
    for each in absent:
        flush_folder(each.parent)


def flush_folder(folder: Path) -> None:
    """Wait for the names in a folder; where a system opens no folder, they go with their files.

    Raises:
        OSError: the medium refused.
    """
    if os.name == "nt":
        return
    descriptor = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    except OSError as error:
        if error.errno not in _WAITS_FOR_NO_FOLDER:
            raise
    finally:
        os.close(descriptor)


def flush_tree(folder: Path) -> None:
    """Wait for every file below a folder, and for its names.

    Raises:
        OSError: the medium refused.
    """
    for place, _, files in os.walk(folder):
        for name in files:
            with Path(place, name).open("rb+") as stream:
                os.fsync(stream.fileno())
        flush_folder(Path(place))


def _explain(error: OSError, path: Path) -> UnwritableFileError:
    return UnwritableFileError(
        "the file cannot be written",
        found=error.strerror or str(error),
        where=str(path),
        remedy="name a folder that is there and takes files",
    )
