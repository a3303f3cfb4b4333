"""Copies of a file on other drives: one read hashes and feeds every copy, then each is read again.

Invariants:

- The source is opened for reading only, and once.
- Nothing is overwritten: an identical file that lies there already is read and counts, another
  one is an error. A copy gets its name when it is whole; until then it ends in `.swathbook-part`.
- A copy counts after it was flushed to its drive and read back, past the page cache where the
  system allows that.
- A drive that fails stops neither the others nor the digest of the source.
"""

from __future__ import annotations

import contextlib
import errno
import hashlib
import os
from collections import deque
from collections.abc import Iterator, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from pathlib import Path

from ledger.dataclass import dataclass
from ledger.errors import FileError, UnreadableFileError, UnwritableFileError
from ledger.fixity import (
    Fixity,
    look_at,
    make_file_id,
    read_fixity,
    read_pieces,
    require_unchanged,
)
from ledger.model.ask import NoProgress, Progress
from ledger.wholefile import PART_SUFFIX, flush_folder, make_folder

_BUFFER_BYTES = 4 << 20
_BUFFERS = 2
_SEND_BYTES = 8 << 20
_SILENT = NoProgress()

_REASONS = {
    errno.ENOSPC: ("the drive is full", "make room, or name another drive"),
    errno.EFBIG: ("the drive takes no file of this size", "format it exFAT, or name another drive"),
    errno.EROFS: ("the drive is read-only", "unlock it, or name another drive"),
    errno.EACCES: ("the system does not allow writing there", "check its permissions"),
    errno.EPERM: ("the system does not allow writing there", "check its permissions"),
    errno.ENODEV: ("the drive is no longer connected", "connect it and run the same command again"),
    errno.ENXIO: ("the drive is no longer connected", "connect it and run the same command again"),
    errno.EIO: ("the drive could not be written", "try another drive"),
}


@dataclass(frozen=True)
class Copy:
    """One copy that was read back and has the digest of its source.

    Args:
        path: where it lies.
        fixity: its bytes as they were read back.
        past_cache: whether the page cache was dropped before it was read back.
        found: whether it lay there already, identical.
    """

    path: Path
    fixity: Fixity
    past_cache: bool
    found: bool


def copy_verified(
    source: Path, targets: Sequence[Path], progress: Progress = _SILENT
) -> tuple[Fixity, tuple[Copy | FileError, ...]]:
    """Copy a file to several places and read every copy back.

    Args:
        source: the file.
        targets: paths of the copies, each on a drive of its own; folders are made.
        progress: is told the bytes read from the source, and as many again while the copies are
            read back; once where there is no target.

    Returns:
        The digest of the source, and for each target its copy or what went wrong there.

    Raises:
        UnreadableFileError: the source cannot be read.
        ChangedFileError: the source was altered while it was read.
    """
    before = look_at(source)
    writers = [_Writer(target, before) for target in targets]
    try:
        digest = _feed(source, before, writers, progress)
        copies = _settle(writers, digest, progress)
    finally:
        for writer in writers:
            writer.discard()
    return Fixity(digest, before.st_size, before.st_mtime_ns, make_file_id(before)), copies


def _settle(
    writers: list[_Writer], digest: str, progress: Progress
) -> tuple[Copy | FileError, ...]:
    """Read every copy back, all at a time; one of them tells the progress for all."""
    told = [progress, *(_SILENT for _ in writers[1:])][: len(writers)]
    with ThreadPoolExecutor(max_workers=max(1, len(writers))) as pool:
        pairs = zip(writers, told, strict=True)
        futures = [pool.submit(writer.settle, digest, each) for writer, each in pairs]
        return tuple(future.result() for future in futures)


def _feed(source: Path, before: os.stat_result, writers: list[_Writer], progress: Progress) -> str:
    """Read the source once, hash it and hand each piece to a thread for each drive."""
    digest, total = hashlib.sha256(), 0
    written: deque[list[Future[None]]] = deque()
    with contextlib.ExitStack() as stack:
        pools = [stack.enter_context(ThreadPoolExecutor(max_workers=1)) for _ in writers]
        for piece in read_pieces(source, before.st_size, _BUFFER_BYTES, _BUFFERS):
            pairs = zip(writers, pools, strict=True)
            written.append([pool.submit(writer.write, piece) for writer, pool in pairs])
            digest.update(piece)
            total += len(piece)
            progress.advance(len(piece))
            if len(written) == _BUFFERS:
                # The next piece is read into the buffer of this one.
                for future in written.popleft():
                    future.result()
    require_unchanged(source, before, total)
    return digest.hexdigest()


class _Writer:
    """Writes one copy under a working name; keeps the first error and does nothing after it."""

    def __init__(self, target: Path, source: os.stat_result) -> None:
        self._target = target
        self._part = target.with_name(target.name + PART_SUFFIX)
        self._source = source
        self._descriptor = -1
        self._error: FileError | None = None
        self._found = False
        self._written = self._sent = 0
        with self._keeping_error():
            self._begin()

    def _begin(self) -> None:
        if os.path.lexists(self._target):
            self._found = True
            return
        make_folder(self._target.parent)
        flags = os.O_WRONLY | os.O_CREAT | os.O_TRUNC | getattr(os, "O_BINARY", 0)
        self._descriptor = os.open(self._part, flags | getattr(os, "O_NOFOLLOW", 0), 0o666)

    def write(self, piece: memoryview) -> None:
        """Add bytes to the copy."""
        if self._descriptor < 0:
            return
        with self._keeping_error():
            while piece:
                written = os.write(self._descriptor, piece)
                self._written += written
                piece = piece[written:]
            if self._written - self._sent >= _SEND_BYTES:
                _forget(self._descriptor, self._sent, self._written - self._sent)
                self._sent = self._written

    def settle(self, digest: str, progress: Progress) -> Copy | FileError:
        """Flush the copy, read it back, give it its name."""
        with self._keeping_error():
            path = self._target if self._found else self._flush()
            dropped = _drop_from_cache(path)
            fixity = read_fixity(path, progress)
            if fixity.sha256 != digest:
                return self._explain_difference(fixity, digest)
            if not self._found:
                self._name()
            return Copy(self._target, fixity, dropped, self._found)
        return self._error or UnwritableFileError("was not copied", where=str(self._target))

    def _flush(self) -> Path:
        if self._error is not None:
            raise self._error
        os.fsync(self._descriptor)
        self._close()
        os.utime(self._part, ns=(self._source.st_atime_ns, self._source.st_mtime_ns))
        return self._part

    def _name(self) -> None:
        if os.path.lexists(self._target):
            raise FileExistsError(errno.EEXIST, os.strerror(errno.EEXIST), str(self._target))
        self._part.rename(self._target)
        flush_folder(self._target.parent)

    def _explain_difference(self, fixity: Fixity, digest: str) -> FileError:
        if self._found:
            text = "another file of this name lies there; nothing is overwritten"
            remedy = "look at it, move it away, then run the same command again"
        else:
            text = "the copy does not read back as it was written"
            remedy = "do not trust this drive; name another one"
        found, expected = f"SHA-256 {fixity.sha256[:12]}", f"{digest[:12]}"
        return UnreadableFileError(
            text, found=found, expected=expected, where=str(self._target), remedy=remedy
        )

    @contextlib.contextmanager
    def _keeping_error(self) -> Iterator[None]:
        try:
            yield
        except FileError as error:
            self._error = self._error or error
        except (OSError, ValueError) as error:
            self._error = self._error or explain_failure(error, self._target)
        if self._error is not None:
            self._close()

    def discard(self) -> None:
        """Remove what is not whole."""
        self._close()
        if not self._found:
            with contextlib.suppress(OSError):
                self._part.unlink(missing_ok=True)

    def _close(self) -> None:
        descriptor, self._descriptor = self._descriptor, -1
        if descriptor >= 0:
            with contextlib.suppress(OSError):
                os.close(descriptor)


def _drop_from_cache(path: Path) -> bool:
    """Ask the system to forget a file that is flushed; say whether it agreed."""
    descriptor = os.open(path, os.O_RDONLY)
    try:
        os.fsync(descriptor)
        return _forget(descriptor, 0, 0)
    except OSError:
        return False
    finally:
        os.close(descriptor)


def _forget(descriptor: int, start: int, length: int) -> bool:
    """Advise the system to forget bytes of a file; say whether it took the advice.

    Of bytes that are not on the drive yet, Linux begins to write them: they go out while later
    ones are read and hashed, and a large copy does not fill the memory.
    """
    advise = getattr(os, "posix_fadvise", None)
    if advise is None:
        return False
    try:
        advise(descriptor, start, length, os.POSIX_FADV_DONTNEED)
    except OSError:
        return False
    return True


def explain_failure(error: Exception, target: Path, what: str = "") -> UnwritableFileError:
    """Return what a person reads of a copy that could not be written.

    Args:
        error: what the system said.
        target: the path of the copy.
        what: what was to be copied, where the path does not say it.
    """
    number = error.errno if isinstance(error, OSError) else None
    reason, remedy = _REASONS.get(number or 0, (str(error), "check the path and the drive"))
    told = f"{what} was not copied".lstrip()
    return UnwritableFileError(f"{told}: {reason}", where=str(target), remedy=remedy)
