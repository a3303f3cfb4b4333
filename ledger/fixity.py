"""Digests of files, read as a stream, and whether a file held still meanwhile.

- A file is read once, in pieces, into one buffer that is used again.
- Size, modification time and file id are compared before and after; a file that changed while it
  was read has no digest. A change that leaves all three alone is not seen.
- Nothing but a regular file is ever opened: a pipe would wait for a writer.

SHA-256: FIPS 180-4.
"""

from __future__ import annotations

import errno
import hashlib
import os
import stat
import threading
from collections import deque
from collections.abc import Generator, Iterable, Iterator
from concurrent.futures import CancelledError, Future, ThreadPoolExecutor
from itertools import cycle
from pathlib import Path
from typing import TypeVar

from ledger.dataclass import dataclass
from ledger.errors import ChangedFileError, FileError, LockedFileError, UnreadableFileError
from ledger.model.ask import NoProgress, Progress
from ledger.model.portable import spell_exactly
from ledger.remote.files import Place, RemoteFile, open_place

# Larger pieces fall out of the processor's cache and are slower.
PIECE_BYTES = 1 << 20

# Files handed to the threads ahead of the one that is waited for, a thread.
_AHEAD = 16

_P = TypeVar("_P", Path, RemoteFile, Place)
_SILENT = NoProgress()
_FLAGS = os.O_RDONLY | getattr(os, "O_BINARY", 0) | getattr(os, "O_CLOEXEC", 0)
# A pipe that takes the place of the file after it was looked at would otherwise block.
_FLAGS |= getattr(os, "O_NONBLOCK", 0)

_REASONS = {
    errno.ENOENT: ("there is no such file", "check the path"),
    errno.ENOTDIR: ("a part of the path is a file, not a folder", "check the path"),
    errno.EACCES: ("the system does not allow reading it", "check its permissions"),
    errno.EPERM: ("the system does not allow reading it", "check its permissions"),
    errno.ELOOP: ("its links lead round in a circle", "remove the link"),
    errno.ENAMETOOLONG: ("the path is too long for this system", "shorten the path"),
    errno.EIO: ("the drive could not read it", "copy the drive before trying again"),
}

# Of Windows, where another program has opened a file for itself (Microsoft, System Error Codes:
# ERROR_SHARING_VIOLATION, ERROR_LOCK_VIOLATION); the common number is that of a lacking permission.
_LOCKED_NUMBERS = (32, 33)
_LOCKED = ("another program has it open", "close it there")

_DEAD_LINK = ("it is a link that leads to nothing", "connect the drive that it leads to, if any")

_SPECIAL = (
    (stat.S_ISDIR, "it is a folder, not a file"),
    (stat.S_ISFIFO, "it is a pipe, not a file"),
    (stat.S_ISSOCK, "it is a socket, not a file"),
    (stat.S_ISCHR, "it is a device, not a file"),
    (stat.S_ISBLK, "it is a device, not a file"),
)


@dataclass(frozen=True)
class Fixity:
    """The bytes of a file at one moment.

    Args:
        sha256: digest, in hex.
        bytes: size.
        mtime_ns: modification time, nanoseconds since the epoch of the system.
        file_id: device and file number as `dev:inode`, of an object its version; the same file seen
            again has the same one.
    """

    sha256: str
    bytes: int
    mtime_ns: int
    file_id: str


def read_fixity(path: Place, progress: Progress = _SILENT) -> Fixity:
    """Read a file through and return its digest.

    Args:
        path: the file, on a drive or in a store; links are followed.
        progress: is told the bytes read, piece by piece.

    Raises:
        UnreadableFileError: absent, not a regular file, or the system refuses to read it.
        ChangedFileError: it was altered, replaced or removed while it was read.
        StoreError: the store that holds it was lost.
    """
    if isinstance(path, RemoteFile):
        return _read_object(path, progress)
    before = look_at(path)
    digest, total = hashlib.sha256(), 0
    for piece in read_pieces(path, before.st_size):
        digest.update(piece)
        total += len(piece)
        progress.advance(len(piece))
    require_unchanged(path, before, total)
    return Fixity(digest.hexdigest(), total, before.st_mtime_ns, make_file_id(before))


def _read_object(place: RemoteFile, progress: Progress) -> Fixity:
    """Return the digest of an object; each range of it was of the version that was listed."""
    digest = hashlib.sha256()
    with open_place(place, "straight") as stream:
        while piece := stream.read(PIECE_BYTES):
            digest.update(piece)
            progress.advance(len(piece))
    return Fixity(digest.hexdigest(), place.size, place.mtime_ns, place.file_id)


def read_pieces(
    path: Path, size: int, piece_bytes: int = PIECE_BYTES, buffers: int = 1
) -> Generator[memoryview, None, None]:
    """Yield the bytes of a file in pieces, from a few buffers that are used in turn.

    Whoever takes some pieces only has to close it: a system may refuse that, too.

    Args:
        path: the file, opened for reading only.
        size: its size, so that a small file takes a small buffer.
        piece_bytes: most bytes of a piece.
        buffers: how many pieces stay valid at a time, the newest among them.

    Raises:
        UnreadableFileError: absent, not a regular file, or the system refuses to read it.
    """
    room = [memoryview(bytearray(max(1, min(piece_bytes, size)))) for _ in range(buffers)]
    turns = cycle(room)
    try:
        with open(reach(path), "rb", buffering=0, opener=_open_at_once) as stream:
            _require_regular(os.fstat(stream.fileno()), path)
            while count := stream.readinto(buffer := next(turns)):
                yield buffer[:count]
    except OSError as error:
        raise _explain(error, path) from error


def reach(path: Path) -> Path:
    """Return a path that the system opens as it is spelled; on Windows not every path is one."""
    return Path(spell_exactly(os.fspath(path))) if os.name == "nt" else path


def look_at(path: Path) -> os.stat_result:
    """Return what the system says of a regular file, without opening it.

    Raises:
        UnreadableFileError: absent, out of reach, or not a regular file.
    """
    try:
        found = reach(path).stat()
    except (OSError, ValueError) as error:
        raise _explain(error, path) from error
    _require_regular(found, path)
    return found


def is_unchanged(path: Path, known: Fixity) -> bool:
    """Say whether size, modification time and file id are still those of a digest."""
    try:
        found = reach(path).stat()
    except (OSError, ValueError):
        return False
    now = (found.st_size, found.st_mtime_ns, make_file_id(found))
    return now == (known.bytes, known.mtime_ns, known.file_id)


def make_file_id(found: os.stat_result) -> str:
    """Return device and file number as `dev:inode`."""
    return f"{found.st_dev}:{found.st_ino}"


def read_many(
    paths: Iterable[_P], progress: Progress = _SILENT, threads: int = 2
) -> Iterator[tuple[_P, Fixity | FileError]]:
    """Read many files, several at a time; one that fails does not stop the others.

    Args:
        paths: the files; taken from the iterable little by little.
        progress: is told the bytes read; never by two threads at once.
        threads: files read at a time: 2 suits a solid-state drive, 1 a spinning one.

    Yields:
        Each path with its digest, or with the error it failed with, in the order of `paths`.

    Raises:
        StoreError: the store that holds one of them was lost.
    """
    shared = _SharedProgress(progress)
    waiting: deque[tuple[_P, Future[Fixity]]] = deque()
    pool = ThreadPoolExecutor(max_workers=threads, thread_name_prefix="fixity")
    try:
        for path in paths:
            waiting.append((path, pool.submit(read_fixity, path, shared)))
            if len(waiting) >= threads * _AHEAD:
                yield _collect(*waiting.popleft())
        while waiting:
            yield _collect(*waiting.popleft())
    finally:
        shared.stopped.set()
        pool.shutdown(cancel_futures=True)


def _collect(path: _P, future: Future[Fixity]) -> tuple[_P, Fixity | FileError]:
    try:
        return path, future.result()
    except FileError as error:
        return path, error


class _SharedProgress(NoProgress):
    """Passes advances on from several threads, and stops them at the next piece when told to."""

    def __init__(self, progress: Progress) -> None:
        self._progress = progress
        self._lock = threading.Lock()
        self.stopped = threading.Event()

    # Start and end are ignored: the caller of `read_many` has announced the whole.

    def advance(self, amount: int) -> None:
        if self.stopped.is_set():
            raise CancelledError
        with self._lock:
            self._progress.advance(amount)


def _open_at_once(path: str, flags: int) -> int:
    return os.open(path, flags | _FLAGS)


def _require_regular(found: os.stat_result, path: Path) -> None:
    if stat.S_ISREG(found.st_mode):
        return
    reason = next((text for test, text in _SPECIAL if test(found.st_mode)), "it is no regular file")
    remedy = "name a regular file"
    if stat.S_ISDIR(found.st_mode) and path.is_symlink():
        reason = "it is a link to a folder, which is not followed"
        remedy = "name that folder itself"
    raise UnreadableFileError(f"cannot be read: {reason}", where=str(path), remedy=remedy)


def _explain(error: OSError | ValueError, path: Path) -> UnreadableFileError:
    number = error.errno if isinstance(error, OSError) else None
    words = error.strerror if isinstance(error, OSError) else None
    reason, remedy = _REASONS.get(
        number or 0, (words or str(error), "check the path and the drive")
    )
    if number == errno.ENOENT and path.is_symlink():
        reason, remedy = _DEAD_LINK
    kind = UnreadableFileError
    if getattr(error, "winerror", None) in _LOCKED_NUMBERS:
        kind, (reason, remedy) = LockedFileError, _LOCKED
    return kind(f"cannot be read: {reason}", where=str(path), remedy=remedy)


def require_unchanged(path: Path, before: os.stat_result, total: int) -> None:
    """Refuse a file that is not what it was before it was read.

    Args:
        path: the file.
        before: what the system said of it before.
        total: bytes that were read.

    Raises:
        ChangedFileError: size, modification time, file id or the bytes read differ.
    """
    remedy = "wait until nothing writes to it, then try again"
    try:
        after = reach(path).stat()
    except OSError as error:
        raise ChangedFileError(
            "disappeared while it was read", where=str(path), remedy=remedy
        ) from error
    for name, found, expected in (
        ("size", after.st_size, before.st_size),
        ("bytes read", total, before.st_size),
        ("modification time in ns", after.st_mtime_ns, before.st_mtime_ns),
        ("file id", make_file_id(after), make_file_id(before)),
    ):
        if found != expected:
            raise ChangedFileError(
                f"changed while it was read, {name}",
                found=str(found),
                expected=str(expected),
                where=str(path),
                remedy=remedy,
            )
