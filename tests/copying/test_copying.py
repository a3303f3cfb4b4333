"""Copies that are hashed while they are written and read back: whole, or not there."""

from __future__ import annotations

import errno
import hashlib
import os
from pathlib import Path

import pytest

from ledger.copying import Copy, copy_verified
from ledger.errors import ChangedFileError, FileError
from ledger.model.ask import NoProgress
from ledger.wholefile import PART_SUFFIX

CONTENT = bytes(range(256)) * 40_000  # 10 MB: more pieces than buffers


def list_names(folder: Path) -> list[str]:
    """Return the names in a folder."""
    return sorted(path.name for path in folder.iterdir())


@pytest.fixture
def source(tmp_path: Path) -> Path:
    """Return a file of 10 MB on a card."""
    path = tmp_path / "card" / "cap.bin"
    path.parent.mkdir()
    path.write_bytes(CONTENT)
    os.utime(path, ns=(1, 1_700_000_000_000_000_000))
    return path


def test_two_copies_have_the_bytes_and_the_time_of_the_source(source, tmp_path):
    """Two copies have the bytes and the time of the source."""
    targets = [tmp_path / drive / "job" / "raw" / "cap.bin" for drive in "AB"]
    fixity, copies = copy_verified(source, targets)
    # hashlib's own digest of the same bytes stands for the outside world.
    assert fixity.sha256 == hashlib.sha256(CONTENT).hexdigest()
    made = [copy for copy in copies if isinstance(copy, Copy)]
    assert [copy.path for copy in made] == targets
    for copy in made:
        assert not copy.found
        assert copy.fixity.sha256 == fixity.sha256
        assert copy.path.read_bytes() == CONTENT
        assert copy.path.stat().st_mtime_ns == 1_700_000_000_000_000_000
        assert list_names(copy.path.parent) == ["cap.bin"]


def test_an_empty_file_is_copied(source, tmp_path):
    """An empty file is copied."""
    source.write_bytes(b"")
    fixity, (copy,) = copy_verified(source, [tmp_path / "A" / "cap.bin"])
    assert isinstance(copy, Copy)
    assert fixity.bytes == copy.fixity.bytes == 0


def test_an_identical_file_is_read_and_counts(source, tmp_path):
    """An identical file is read and counts."""
    target = tmp_path / "cap.bin"
    target.write_bytes(CONTENT)
    before = target.stat()
    _, (copy,) = copy_verified(source, [target])
    assert isinstance(copy, Copy)
    assert copy.found
    after = target.stat()  # the time of the last reading is the system's affair
    assert (after.st_ino, after.st_size, after.st_mtime_ns, after.st_ctime_ns) == (
        before.st_ino,
        before.st_size,
        before.st_mtime_ns,
        before.st_ctime_ns,
    )


@pytest.mark.parametrize("other", [b"other", CONTENT[:-1] + b"?"])
def test_another_file_is_never_overwritten(source, tmp_path, other):
    """Another file is never overwritten."""
    target = tmp_path / "cap.bin"
    target.write_bytes(other)
    _, (copy,) = copy_verified(source, [target])
    assert isinstance(copy, FileError)
    assert "nothing is overwritten" in str(copy)
    assert target.read_bytes() == other


@pytest.mark.parametrize("make", [Path.mkdir, lambda path: path.symlink_to("nowhere")])
def test_a_folder_or_dead_link_of_that_name_is_an_error(source, tmp_path, make):
    """A folder or dead link of that name is an error."""
    target = tmp_path / "cap.bin"
    make(target)
    _, (copy,) = copy_verified(source, [target])
    assert isinstance(copy, FileError)
    assert str(target) in str(copy)


def test_what_an_interrupted_copy_left_is_written_anew(source, tmp_path):
    """What an interrupted copy left is written anew."""
    part = tmp_path / f"cap.bin{PART_SUFFIX}"
    part.write_bytes(CONTENT + b"longer than the source")
    _, (copy,) = copy_verified(source, [tmp_path / "cap.bin"])
    assert isinstance(copy, Copy)
    assert (tmp_path / "cap.bin").read_bytes() == CONTENT
    assert not part.exists()


def test_a_link_in_the_place_of_the_working_name_is_not_followed(source, tmp_path):
    """A link in the place of the working name is not followed."""
    victim = tmp_path / "victim"
    victim.write_bytes(b"precious")
    (tmp_path / f"cap.bin{PART_SUFFIX}").symlink_to(victim)
    _, (copy,) = copy_verified(source, [tmp_path / "cap.bin"])
    assert isinstance(copy, FileError)
    assert victim.read_bytes() == b"precious"


@pytest.mark.parametrize(
    ("number", "words"),
    [
        (errno.ENOSPC, "the drive is full"),
        (errno.EFBIG, "takes no file of this size"),
        (errno.EIO, "could not be written"),
        (errno.ENODEV, "no longer connected"),
    ],
)
def test_a_drive_that_fails_stops_neither_the_other_nor_the_digest(
    source, tmp_path, monkeypatch, number, words
):
    """A drive that fails stops neither the other nor the digest."""
    real, bad = os.write, tmp_path / "bad" / "cap.bin"

    def write(descriptor: int, piece: memoryview) -> int:
        if str(Path(f"/proc/self/fd/{descriptor}").readlink()).startswith(str(bad)):
            raise OSError(number, os.strerror(number))
        return real(descriptor, piece)

    monkeypatch.setattr(os, "write", write)
    good = tmp_path / "good" / "cap.bin"
    fixity, (failed, copy) = copy_verified(source, [bad, good])
    assert isinstance(failed, FileError)
    assert words in str(failed)
    assert isinstance(copy, Copy)
    assert copy.fixity.sha256 == fixity.sha256 == hashlib.sha256(CONTENT).hexdigest()
    assert list_names(bad.parent) == []


def test_a_drive_that_forgets_is_not_believed(source, tmp_path, monkeypatch):
    """A drive that forgets is not believed."""
    real = os.write

    def lose(descriptor: int, piece: memoryview) -> int:
        return real(descriptor, bytes(len(piece)))

    monkeypatch.setattr(os, "write", lose)
    _, (copy,) = copy_verified(source, [tmp_path / "A" / "cap.bin"])
    assert isinstance(copy, FileError)
    assert "does not read back" in str(copy)
    assert list_names(tmp_path / "A") == []


def test_a_source_that_changes_leaves_no_copy(source, tmp_path, monkeypatch):
    """A source that changes leaves no copy."""
    real = os.write

    def grow(descriptor: int, piece: memoryview) -> int:
        with source.open("ab") as stream:
            stream.write(b"more")
        return real(descriptor, piece)

    monkeypatch.setattr(os, "write", grow)
    with pytest.raises(ChangedFileError):
        copy_verified(source, [tmp_path / "A" / "cap.bin"])
    assert list_names(tmp_path / "A") == []


def test_a_stop_leaves_no_half_copy(source, tmp_path):
    """A stop leaves no half copy."""

    class Stop(NoProgress):
        def advance(self, amount: int) -> None:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        copy_verified(source, [tmp_path / "A" / "cap.bin"], Stop())
    assert list_names(tmp_path / "A") == []


def test_progress_is_told_every_byte_of_the_source(source, tmp_path):
    """Progress is told every byte of the source, and every byte read back."""

    class Count(NoProgress):
        told = 0

        def advance(self, amount: int) -> None:
            self.told += amount

    count = Count()
    copy_verified(source, [tmp_path / "A" / "cap.bin"], count)
    assert count.told == 2 * len(CONTENT)


@pytest.mark.parametrize("has_advice", [True, False])
def test_it_is_said_whether_the_copy_was_read_past_the_cache(
    source, tmp_path, monkeypatch, has_advice
):
    """It is said whether the copy was read past the cache."""
    if has_advice and not hasattr(os, "posix_fadvise"):
        pytest.skip("this system takes no advice about its page cache")
    if not has_advice:
        monkeypatch.delattr(os, "posix_fadvise", raising=False)
    _, (copy,) = copy_verified(source, [tmp_path / "A" / "cap.bin"])
    assert isinstance(copy, Copy)
    assert copy.past_cache is has_advice


def test_bytes_go_to_the_drive_while_later_ones_are_read(source, tmp_path, monkeypatch):
    """A large copy neither fills the memory nor is left for the end."""
    if not hasattr(os, "posix_fadvise"):
        pytest.skip("this system takes no advice about its page cache")
    real_advice, real_flush = os.posix_fadvise, os.fsync
    told: list[object] = []

    def advise(descriptor: int, start: int, length: int, advice: int) -> None:
        told.append((start, length))
        real_advice(descriptor, start, length, advice)

    def flush(descriptor: int) -> None:
        told.append("flushed")
        real_flush(descriptor)

    monkeypatch.setattr(os, "posix_fadvise", advise)
    monkeypatch.setattr(os, "fsync", flush)
    (tmp_path / "A").mkdir()  # a new folder would be waited for first
    copy_verified(source, [tmp_path / "A" / "cap.bin"])
    first, then = told[:2]
    assert first == (0, 8 << 20)
    assert then == "flushed"


def test_a_system_that_refuses_advice_copies_all_the_same(source, tmp_path, monkeypatch):
    """Then the copy may have been read from the cache, and that is said."""

    def refuse(*_: int) -> None:
        raise OSError(errno.EINVAL, os.strerror(errno.EINVAL))

    monkeypatch.setattr(os, "posix_fadvise", refuse, raising=False)
    monkeypatch.setattr(os, "POSIX_FADV_DONTNEED", 4, raising=False)
    _, (copy,) = copy_verified(source, [tmp_path / "A" / "cap.bin"])
    assert isinstance(copy, Copy)
    assert not copy.past_cache
    assert copy.path.read_bytes() == CONTENT
