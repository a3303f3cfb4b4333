"""Digests of files: right for every size, and refused for what is no still and regular file."""

from __future__ import annotations

import errno
import hashlib
import os
import re
import socket
import threading
import time
from collections.abc import Callable
from itertools import islice
from pathlib import Path

import pytest

from ledger import fixity
from ledger.errors import ChangedFileError, FileError, UnreadableFileError
from ledger.fixity import PIECE_BYTES, Fixity, look_at, make_file_id, read_fixity, read_many
from ledger.model.ask import NoProgress


class Recording(NoProgress):
    """Keeps what it is told, and does something once after the first piece."""

    def __init__(self, then: Callable[[], object] = lambda: None) -> None:
        """Take what to do after the first piece."""
        self.amounts: list[int] = []
        self._then = then

    def advance(self, amount: int) -> None:
        """Keep the amount."""
        self.amounts.append(amount)
        if len(self.amounts) == 1:
            self._then()


def make(path: Path, size: int) -> Path:
    """Write a file of `size` bytes, different from place to place."""
    path.write_bytes(bytes(i * i % 251 for i in range(min(size, 5000))) * (size // 5000 + 1))
    os.truncate(path, size)
    return path


SIZES = [1, 63, 64, 4096, PIECE_BYTES - 1, PIECE_BYTES, PIECE_BYTES + 1, 3 * PIECE_BYTES + 7]


@pytest.mark.parametrize("size", SIZES)
def test_digest_is_that_of_the_bytes(tmp_path: Path, size: int) -> None:
    """Digest, size, time and id are those of hashlib and of the system, around every boundary."""
    path = make(tmp_path / "raw.bin", size)
    told = Recording()
    found = read_fixity(path, told)
    status = path.stat()
    assert found.sha256 == hashlib.sha256(path.read_bytes()).hexdigest()
    assert (found.bytes, found.mtime_ns) == (size, status.st_mtime_ns)
    assert found.file_id == f"{status.st_dev}:{status.st_ino}" == make_file_id(look_at(path))
    assert sum(told.amounts) == size
    assert max(told.amounts) <= PIECE_BYTES


def test_link_to_a_file_is_read_through(tmp_path: Path) -> None:
    """A link to a file gives the digest and the id of the file."""
    path = make(tmp_path / "raw.bin", 100)
    link = tmp_path / "link"
    link.symlink_to(path)
    assert read_fixity(link) == read_fixity(path)


def test_odd_names_are_read(tmp_path: Path) -> None:
    """Spaces, brackets, letters of any script and a name of 200 characters make no difference."""
    for name in ("a b [1].laz", "Größe 測量.laz", "x" * 200):
        assert read_fixity(make(tmp_path / name, 10)).bytes == 10


# What is no regular file.


def expect_refusal(path: Path, words: str) -> None:
    """Hold that the file is refused with these words, naming it and what to do."""
    with pytest.raises(UnreadableFileError, match=words) as caught:
        read_fixity(path)
    (fault,) = caught.value.faults
    assert fault.where == str(path)
    assert fault.remedy
    with pytest.raises(UnreadableFileError, match=words):
        look_at(path)


def test_absent_file_is_refused(tmp_path: Path) -> None:
    """A path at which there is nothing, or below a file, is refused."""
    expect_refusal(tmp_path / "absent.laz", "there is no such file")
    make(tmp_path / "file", 1)
    expect_refusal(tmp_path / "file" / "below", "a part of the path is a file")
    (tmp_path / "dangling").symlink_to(tmp_path / "gone")
    expect_refusal(tmp_path / "dangling", "it is a link that leads to nothing")


def test_folder_is_refused(tmp_path: Path) -> None:
    """A folder is refused as a folder."""
    expect_refusal(tmp_path, "it is a folder")


def test_link_loop_is_refused(tmp_path: Path) -> None:
    """Links that lead round in a circle are refused."""
    (tmp_path / "a").symlink_to(tmp_path / "b")
    (tmp_path / "b").symlink_to(tmp_path / "a")
    expect_refusal(tmp_path / "a", "in a circle")


def test_unusable_path_is_refused() -> None:
    """A path that is too long, or holds a null, is refused and raises nothing else."""
    expect_refusal(Path("/") / ("x" * 300), "too long")
    with pytest.raises(UnreadableFileError):
        read_fixity(Path("a\0b"))


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="this system has no pipes in folders")
def test_pipe_is_refused_at_once(tmp_path: Path) -> None:
    """A pipe is refused without waiting for somebody to write into it."""
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    expect_refusal(pipe, "it is a pipe")


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="this system has no pipes in folders")
def test_pipe_in_place_of_the_file_does_not_block(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A pipe that takes the file's place after it was looked at is refused without waiting."""
    path = make(tmp_path / "raw.bin", 10)
    status = look_at(path)
    path.unlink()
    os.mkfifo(path)
    monkeypatch.setattr(fixity, "look_at", lambda _: status)
    outcome: list[BaseException] = []

    def read() -> None:
        try:
            read_fixity(path)
        except UnreadableFileError as error:
            outcome.append(error)

    thread = threading.Thread(target=read, daemon=True)
    thread.start()
    thread.join(timeout=10)
    assert not thread.is_alive()
    assert "it is a pipe" in str(outcome[0])


@pytest.mark.skipif(not hasattr(socket, "AF_UNIX"), reason="this system has no such sockets")
def test_device_and_socket_are_refused(tmp_path: Path) -> None:
    """A device and a socket are refused by their kind."""
    if Path("/dev/null").exists():
        expect_refusal(Path("/dev/null"), "it is a device")
    with socket.socket(socket.AF_UNIX) as server:
        # The name of a socket may be no longer than some 100 bytes.
        short = Path(os.path.relpath(tmp_path / "s"))
        if len(str(short)) > 90:
            pytest.skip("the folder of the tests lies too deep for a socket")
        server.bind(str(short))
        expect_refusal(short, "it is a socket")


@pytest.mark.parametrize(
    ("number", "words"),
    [
        (errno.EACCES, "does not allow"),
        (errno.EPERM, "does not allow"),
        (errno.EIO, "the drive could not read it"),
        (errno.ENOMEM, re.escape(os.strerror(errno.ENOMEM))),
    ],
)
def test_refusal_of_the_system_is_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, number: int, words: str
) -> None:
    """Whatever the system answers on opening becomes one sentence."""
    path = make(tmp_path / "raw.bin", 10)

    def refuse(*_: object) -> int:
        raise OSError(number, os.strerror(number))

    monkeypatch.setattr(fixity, "_open_at_once", refuse)
    with pytest.raises(UnreadableFileError, match=f"(?i){words}"):
        read_fixity(path)


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="root may read all")
def test_file_without_permission_is_refused(tmp_path: Path) -> None:
    """A file that may not be read is refused with a word about permissions."""
    path = make(tmp_path / "raw.bin", 10)
    path.chmod(0)
    with pytest.raises(UnreadableFileError, match="does not allow"):
        read_fixity(path)


# What changes meanwhile.


def grow(path: Path) -> None:
    """Append to the file."""
    with path.open("ab") as stream:
        stream.write(b"more")


def shrink(path: Path) -> None:
    """Cut the file."""
    os.truncate(path, 10)


def overwrite(path: Path) -> None:
    """Write other bytes in place, size as before."""
    with path.open("r+b") as stream:
        stream.write(b"other")
    later = path.stat().st_mtime_ns + 1_000_000_000
    os.utime(path, ns=(later, later))


def replace(path: Path) -> None:
    """Put another file of the same size and time in its place."""
    status = path.stat()
    other = make(path.with_suffix(".new"), status.st_size)
    os.utime(other, ns=(status.st_atime_ns, status.st_mtime_ns))
    other.replace(path)


def remove(path: Path) -> None:
    """Remove the file."""
    path.unlink()


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (grow, "size"),
        (shrink, "size"),
        (overwrite, "modification time"),
        (replace, "file id"),
        (remove, "disappeared"),
    ],
)
def test_file_that_changes_has_no_digest(
    tmp_path: Path, change: Callable[[Path], None], words: str
) -> None:
    """A file altered, cut, replaced or removed after its first piece was read is an error."""
    path = make(tmp_path / "raw.bin", 3 * PIECE_BYTES)
    with pytest.raises(ChangedFileError, match=words) as caught:
        read_fixity(path, Recording(lambda: change(path)))
    assert caught.value.faults[0].where == str(path)


def test_file_that_grows_and_shrinks_back_is_seen_by_its_bytes(tmp_path: Path) -> None:
    """A file that was short while it was read is seen, though size and time are as before."""
    path = make(tmp_path / "raw.bin", 3 * PIECE_BYTES)
    content, status = path.read_bytes(), path.stat()
    told = Recording(lambda: os.truncate(path, PIECE_BYTES))

    class Restoring(Recording):
        def advance(self, amount: int) -> None:
            told.advance(amount)

    original = fixity.require_unchanged

    def restore_first(*arguments: object) -> None:
        path.write_bytes(content)
        os.utime(path, ns=(status.st_atime_ns, status.st_mtime_ns))
        original(*arguments)  # type: ignore[arg-type]

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(fixity, "require_unchanged", restore_first)
        with pytest.raises(ChangedFileError, match="bytes read"):
            read_fixity(path, Restoring())


# Many files.


def test_many_files_keep_their_order(tmp_path: Path) -> None:
    """Files of very different size come back in the order they were named, each with its digest."""
    sizes = [2 * PIECE_BYTES, 1, 0, PIECE_BYTES, *([17] * 60), 3]
    paths = [make(tmp_path / f"{index}.bin", size) for index, size in enumerate(sizes)]
    told = Recording()
    results = list(read_many(paths, told, threads=3))
    assert [path for path, _ in results] == paths
    assert [result for _, result in results] == [read_fixity(path) for path in paths]
    assert sum(told.amounts) == sum(sizes)


@pytest.mark.parametrize("threads", [1, 2])
def test_file_that_fails_does_not_stop_the_others(tmp_path: Path, threads: int) -> None:
    """Absent files and folders come back as errors in their place, the others as digests."""
    good = make(tmp_path / "good.bin", 9)
    paths = [good, tmp_path / "absent", tmp_path, good]
    kinds = [type(result) for _, result in read_many(paths, threads=threads)]
    assert kinds == [Fixity, UnreadableFileError, UnreadableFileError, Fixity]


def test_no_files_give_nothing() -> None:
    """No path gives no result."""
    assert list(read_many([])) == []


def test_paths_are_taken_little_by_little(tmp_path: Path) -> None:
    """An endless list of paths can be begun, so that a million need no room."""
    path = make(tmp_path / "raw.bin", 9)

    def forever():
        while True:
            yield path

    results = read_many(forever())
    assert [found for _, found in islice(results, 5)] == [read_fixity(path)] * 5
    results.close()  # type: ignore[attr-defined]


def test_two_files_are_read_at_once(tmp_path: Path) -> None:
    """With two threads the second file is begun before the first has ended."""
    paths = [make(tmp_path / f"{index}.bin", 2 * PIECE_BYTES) for index in range(2)]
    both = threading.Barrier(2, timeout=10)
    met: set[Path] = set()
    original = fixity.look_at

    def wait(path: Path) -> os.stat_result:
        both.wait()
        met.add(path)
        return original(path)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(fixity, "look_at", wait)
        list(read_many(paths))
    assert met == set(paths)


def test_progress_is_never_told_by_two_threads_at_once(tmp_path: Path) -> None:
    """A progress that cannot bear two callers is told by one at a time."""
    paths = [make(tmp_path / f"{index}.bin", 4 * PIECE_BYTES) for index in range(4)]
    inside = threading.Lock()

    class Jealous(NoProgress):
        overlaps = 0
        total = 0

        def advance(self, amount: int) -> None:
            if not inside.acquire(blocking=False):
                self.overlaps += 1
                return
            time.sleep(0.001)  # long enough for another thread to come in
            self.total += amount
            inside.release()

    progress = Jealous()
    list(read_many(paths, progress, threads=4))
    assert (progress.overlaps, progress.total) == (0, 16 * PIECE_BYTES)


def test_stopping_early_ends_the_threads(tmp_path: Path) -> None:
    """A caller that goes away, or is interrupted, does not wait for files still being read."""
    paths = [make(tmp_path / f"{index}.bin", 64 * PIECE_BYTES) for index in range(4)]
    told = Recording()
    first_piece = threading.Event()
    told._then = first_piece.set
    results = read_many([make(tmp_path / "small.bin", 1), *paths], told, threads=2)
    next(results)
    results.close()  # type: ignore[attr-defined]
    assert not [thread for thread in threading.enumerate() if thread.name.startswith("fixity")]
    assert sum(told.amounts) < 4 * 64 * PIECE_BYTES  # they were not all read through


def test_interruption_of_the_progress_is_passed_on(tmp_path: Path) -> None:
    """What a progress raises that is no error of a file ends the reading."""
    path = make(tmp_path / "raw.bin", 10)

    def interrupt() -> None:
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        list(read_many([path], Recording(interrupt)))


def test_fault_of_the_progress_is_not_laid_on_the_file(tmp_path: Path) -> None:
    """An error of the system that the progress meets is no error of the file."""

    def break_off() -> None:
        raise BrokenPipeError

    with pytest.raises(BrokenPipeError):
        read_fixity(make(tmp_path / "raw.bin", 10), Recording(break_off))


def test_errors_are_file_errors() -> None:
    """Both errors are caught as file errors, which is what callers catch."""
    assert issubclass(UnreadableFileError, FileError)
    assert issubclass(ChangedFileError, FileError)
