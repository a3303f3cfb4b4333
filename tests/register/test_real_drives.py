"""Copies on drives that are devices of their own: what the stand-ins of the other tests stand for.

The file systems are ext4 in a file, and shared memory where nothing can be mounted.
The 4 GiB limit of FAT is tested with stand-ins alone: it needs a kernel that knows FAT.
"""

from __future__ import annotations

import contextlib
import errno
import os
import shutil
import uuid
from collections.abc import Iterator
from pathlib import Path

import pytest
from real_drives import NO_DEVICE, RealDrives

from ledger import copying, copyto
from ledger.cli.frame import main
from ledger.copies import find_copies
from ledger.drives import LABEL_NAME, open_drive
from ledger.errors import FaultsError, UnwritableFileError
from ledger.model.ask import NoProgress
from ledger.recheck import FileState, recheck
from ledger.register import RegisterOptions, register_paths
from ledger.start import start_job
from ledger.store.reading import Book

MIB = 1 << 20
SHARED_MEMORY = Path("/dev/shm")  # noqa: S108 - another device on every Linux system


@pytest.fixture
def drives(tmp_path: Path) -> Iterator[RealDrives]:
    """Return a maker of drives; what it connected is disconnected at the end."""
    made = RealDrives(tmp_path)
    yield made
    made.pull_all()


@pytest.fixture
def job(tmp_path: Path) -> Path:
    """Return a job."""
    folder = tmp_path / "computer" / "QM-0412"
    start_job(folder)
    return folder


def fill(card: Path, count: int = 3, size: int = MIB) -> Path:
    """Put files on a card."""
    folder = card / "DCIM"
    folder.mkdir()
    for number in range(count):
        (folder / f"cap_p{number}.bin").write_bytes(os.urandom(size))
    return folder


def register(job: Path, card: Path, *to: Path, progress: NoProgress | None = None):
    """Register a card with copies."""
    options = RegisterOptions(flight="F1", copy_to=to)
    return register_paths(job, [card], options, progress or NoProgress())


def test_shared_memory_is_another_device(job, tmp_path):
    """A card here, a copy there: two copies on two devices, found again, and the card cleared."""
    if not SHARED_MEMORY.is_dir() or SHARED_MEMORY.stat().st_dev == job.stat().st_dev:
        pytest.skip(NO_DEVICE)
    name = f"swathbook-test-{uuid.uuid4().hex}"
    drive, card = SHARED_MEMORY / name, SHARED_MEMORY / f"{name}-card"
    label = SHARED_MEMORY / LABEL_NAME
    had_label = label.exists()
    try:
        drive.mkdir()
        source = fill(tmp_path)
        first = register(job, source, drive)
        assert first.is_complete
        assert first.copies.good == 1
        # The job's own device holds the files already; the other device takes a card for it.
        shutil.copytree(source, card)
        second = register(job, card, job)
        assert second.copies.good == 2
        assert second.copies.card_may_be_cleared
        shutil.rmtree(card)
        shutil.rmtree(source)
        found = recheck(job)
        assert found.state_ok
        assert found.counts == {FileState.AS_RECORDED: 6, FileState.CARD_CLEARED: 6}
        assert found.copies is not None
        assert found.copies.read == 2
    finally:
        for folder in (drive, card):
            shutil.rmtree(folder, ignore_errors=True)
        if not had_label:
            label.unlink(missing_ok=True)


def test_a_drive_is_found_again_at_another_mount_point(drives, job):
    """Card and drive are devices of their own; mounted elsewhere the copies are read there."""
    card, stick = drives.make("card"), drives.make("stick")
    result = register(job, fill(card), job, stick)
    assert result.copies.card_may_be_cleared
    drives.pull("stick")
    assert recheck(job).counts == {FileState.AS_RECORDED: 6, FileState.NOT_CONNECTED: 3}
    moved = drives.plug("stick", "elsewhere")
    found = recheck(job)
    assert found.counts == {FileState.AS_RECORDED: 9}
    assert found.copies is not None
    assert f"{moved} (read now)" in found.copies.sentence
    # Somebody else's drive where the stick had been: nothing is taken for a copy.
    drives.pull("stick")
    drives.make("other")
    drives.pull("other")
    drives.plug("other", "stick")
    assert recheck(job).counts == {FileState.AS_RECORDED: 6, FileState.NOT_CONNECTED: 3}


@pytest.mark.parametrize("how", ["emptied", "pulled", "another"])
def test_a_card_that_is_a_device_is_cleared(drives, job, how):
    """Emptied, pulled, or another card in its place."""
    card = drives.make("card")
    register(job, fill(card), job, drives.make("stick"))
    if how == "emptied":
        shutil.rmtree(card / "DCIM")
    else:
        drives.pull("card")
    if how == "another":
        drives.make("second")
        drives.pull("second")
        fill(drives.plug("second", "card"))
    found = recheck(job)
    assert found.state_ok
    assert found.counts == {FileState.AS_RECORDED: 6, FileState.CARD_CLEARED: 3}
    assert main(["--job", str(job), "recheck"]) == 0


def test_a_drive_that_is_pulled_goes_on_where_it_stopped(drives, job, monkeypatch):
    """Pulled while a file is copied, plugged in elsewhere: only what was not whole is copied."""
    source, stick = fill(drives.make("card")), drives.make("stick")
    seen: list[str] = []
    real = copying.copy_verified

    def watch(path: Path, targets, progress):
        seen.append(path.name)
        return real(path, targets, progress)

    monkeypatch.setattr(copyto, "copy_verified", watch)

    class Pull(NoProgress):
        told = 0

        def advance(self, amount: int) -> None:
            self.told += amount
            if self.told > 2 * MIB and "stick" in drives.connected:
                drives.pull("stick")

    first = register(job, source, job, stick, progress=Pull())
    assert not first.is_complete
    assert not first.copies.card_may_be_cleared
    assert list(stick.iterdir()) == []  # nothing went to the computer's own drive instead
    done = len(first.drives[1].copies)
    assert done < 3
    seen.clear()
    second = register(job, source, job, drives.plug("stick", "elsewhere"))
    assert second.is_complete
    assert second.copies.card_may_be_cleared
    assert second.resumed == done
    assert len(seen) == 3 - done


def test_a_small_drive_is_refused_and_one_that_fills_up_is_told(drives, job, monkeypatch):
    """Too little room is seen before the first byte; room that goes while copying, at its file."""
    source, small = fill(drives.make("card"), size=8 * MIB), drives.make("small", 16)
    with pytest.raises(FaultsError, match="too full"):
        register(job, source, small)
    assert not (small / job.name).exists()
    monkeypatch.setattr(copyto, "require_room", lambda *_: None)
    result = register(job, source, job, small)
    told = [fault.sentence() for fault in result.drives[1].faults]
    assert any(os.strerror(errno.ENOSPC) in line or "is full" in line for line in told), told
    assert len(result.drives[0].copies) == 3
    assert not result.copies.card_may_be_cleared
    parts = [path.name for path in (small / job.name).rglob("*") if path.is_file()]
    assert not any(name.endswith(".swathbook-part") for name in parts)


def test_a_locked_drive_is_told_in_one_line(drives, job):
    """Read-only: no label can be put there, and with one no file."""
    source = fill(drives.make("card"))
    drives.make("stick")
    drives.pull("stick")
    locked = drives.plug("stick", "stick", "ro")
    with contextlib.suppress(UnwritableFileError):  # a system that knows its id asks for no label
        open_drive(locked)
        pytest.skip("the system gives these drives ids that last")
    drives.pull("stick")
    open_drive(drives.plug("stick", "stick"))
    drives.pull("stick")
    result = register(job, source, job, drives.plug("stick", "stick", "ro"))
    told = [fault.sentence() for fault in result.drives[1].faults]
    assert all("read-only" in line for line in told), told
    assert not result.copies.card_may_be_cleared
    assert len(result.drives[0].copies) == 3


def test_two_drives_at_one_mount_point_one_after_the_other(drives, job):
    """As with one letter for each drive that is plugged in: two drives, two copies."""
    source = fill(drives.make("card"))
    drives.make("one")
    drives.pull("one")
    register(job, source, drives.plug("one", "E"))
    drives.pull("one")
    drives.make("two")
    drives.pull("two")
    result = register(job, source, drives.plug("two", "E"))
    assert result.copies.card_may_be_cleared
    with Book.open(job) as book:
        places = [place for place in find_copies(book).places if place.is_copy]
    assert len({place.drive for place in places}) == 2
    assert len({place.path for place in places}) == 3
