"""Drives are known by themselves, not by their letter; room is measured before any copy."""

from __future__ import annotations

import json
from pathlib import Path
from typing import NamedTuple

import pytest

from ledger import drives
from ledger.drives import LABEL_NAME, Drive, find_roots, open_drive, require_room
from ledger.errors import FaultsError, FileError, UsageError
from ledger.volumes import Volume

GIB = 1 << 30


class Partition(NamedTuple):
    """What the library says of a place where a drive is connected."""

    mountpoint: str
    fstype: str


@pytest.fixture
def stick(tmp_path, monkeypatch):
    """Return a folder that stands in for the root of a drive without a lasting id."""
    root = tmp_path / "E"
    (root / "jobs").mkdir(parents=True)
    stand_in(monkeypatch, {root: Volume("device:99", str(root))})
    return root


def stand_in(monkeypatch, roots, fstype="exfat"):
    """Let folders be the roots of drives; none of them is the computer's own."""

    def identify(path: Path) -> Volume:
        for root, volume in roots.items():
            if path == root or root in path.parents:
                return volume
        return Volume()

    listed = [Partition(str(root), fstype) for root in roots]
    monkeypatch.setattr(drives, "identify_volume", identify)
    monkeypatch.setattr(drives, "_is_own", lambda root: False)
    monkeypatch.setattr(drives, "load_part", lambda module, name: lambda **_: listed)


def test_a_drive_without_a_lasting_id_gets_a_label_once(stick):
    """The label lies at its root, says one id, and is kept."""
    first = open_drive(stick / "jobs")
    assert first.root == stick
    assert first.id.startswith("label:")
    written = (stick / LABEL_NAME).read_text(encoding="utf-8")
    assert open_drive(stick).id == first.id
    assert (stick / LABEL_NAME).read_text(encoding="utf-8") == written
    assert json.loads(written)["volume"] == first.id.removeprefix("label:")


def test_nothing_is_written_to_the_drive_that_files_come_from(stick):
    """A card named as the place of its own copies is refused before it would get a label."""
    with pytest.raises(UsageError, match="lie on that drive themselves"):
        open_drive(stick / "jobs", {stick.stat().st_dev})
    assert sorted(path.name for path in stick.iterdir()) == ["jobs"]


def test_a_drive_is_found_under_another_letter(stick, tmp_path, monkeypatch):
    """The label tells which drive it is, wherever it is connected."""
    known = open_drive(stick).id
    moved = stick.rename(tmp_path / "F")
    stand_in(monkeypatch, {tmp_path / "G": Volume(), moved: Volume("device:12", str(moved))})
    assert find_roots(known) == (moved,)
    assert find_roots("label:0000000000000000") == ()


def test_a_drive_with_a_lasting_id_needs_no_label(tmp_path, monkeypatch):
    """Nothing is written where the system tells drives apart by itself."""
    root = tmp_path / "E"
    root.mkdir()
    stand_in(monkeypatch, {root: Volume("uuid:1234-ABCD", str(root))})
    assert open_drive(root).id == "uuid:1234-ABCD"
    assert list(root.iterdir()) == []
    assert find_roots("uuid:1234-ABCD") == (root,)


def test_the_computers_own_drive_is_not_labelled(tmp_path):
    """No file is put at the root of the system."""
    home = Path.home()
    drive = open_drive(home)
    assert not (drive.root / LABEL_NAME).exists()
    assert drive.free > 0


@pytest.mark.parametrize("content", ["", "{}", '{"volume": "no hex"}', "[]", '{"volume": 7}'])
def test_a_label_that_says_nothing_is_not_written_over(stick, content):
    """Somebody's file stays, and the message says what to do."""
    (stick / LABEL_NAME).write_text(content, encoding="utf-8")
    with pytest.raises(FileError, match="label of the drive"):
        open_drive(stick)
    assert (stick / LABEL_NAME).read_text(encoding="utf-8") == content


def test_a_path_that_goes_up_is_written_out(stick, monkeypatch):
    """Whoever stands in the job and names the drive beside it means that drive."""
    monkeypatch.chdir(stick / "jobs")
    assert open_drive(Path("..")).folder == stick


def test_an_absent_folder_is_one_line(tmp_path):
    """A drive that is not connected is not made up."""
    with pytest.raises(UsageError, match="no such drive or folder"):
        open_drive(tmp_path / "X")


def test_room_is_asked_for_before_anything_is_copied(tmp_path):
    """Too little room, and every file that FAT cannot hold, are told at once."""
    drive = Drive("label:1", tmp_path, tmp_path, device=1, free=5 * GIB, largest=2**32 - 1)
    require_room(drive, [(tmp_path / "a", 2**32 - 1)])
    with pytest.raises(FaultsError) as caught:
        require_room(drive, [(tmp_path / "a", 2**32), (tmp_path / "b", 2 * GIB)])
    first, second = str(caught.value).splitlines()
    assert "too full" in first
    assert ", and 67.11 MB to spare" in first  # what a person sees is more than the files take
    assert "5.37 GB free" in first
    assert "too large for the file system" in second
    require_room(drive, [])


@pytest.mark.parametrize(
    ("fstype", "largest"),
    [("vfat", 2**32 - 1), ("FAT32", 2**32 - 1), ("exfat", None), ("ntfs", None)],
)
def test_the_limit_is_that_of_the_file_system(tmp_path, monkeypatch, fstype, largest):
    """FAT states a size in 32 bits (Microsoft FAT specification); exFAT and NTFS do not."""
    root = tmp_path / "E"
    root.mkdir()
    stand_in(monkeypatch, {root: Volume("uuid:1", str(root))}, fstype)
    assert open_drive(root).largest == largest
