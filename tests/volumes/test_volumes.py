"""Which volume a file lies on, as the system says it.

Mount table: proc_pid_mountinfo(5) of the Linux manual pages. The tables here are made up.
"""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from ledger import volumes
from ledger.volumes import Volume, identify_volume, is_lasting

linux = pytest.mark.skipif(not Path("/proc/self/mountinfo").exists(), reason="no mount table here")


def write_table(folder: Path, place: str, kind: str, source: str) -> Path:
    """Write a mount table in which one file system is mounted over another."""
    table = folder / "mountinfo"
    table.write_text(
        f"22 1 254:0 / {place} rw,relatime shared:1 - ext4 /dev/hidden rw\n"
        f"36 35 98:0 /mnt1 {place} rw,noatime master:1 shared:2 - {kind} {source} rw,errors=x\n"
        "40 22 0:40 / /elsewhere rw - tmpfs tmpfs rw\n",
        encoding="utf-8",
    )
    return table


@pytest.fixture
def place(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Return a folder that counts as the place of a mount, in a system without known ids."""
    folder = tmp_path / "card one"
    folder.mkdir()
    monkeypatch.setattr(os.path, "ismount", lambda path: Path(path) == folder)
    monkeypatch.setattr(volumes, "_BY_UUID", tmp_path / "none")
    monkeypatch.setattr(volumes, "_MOUNTS", tmp_path / "none")
    return folder


def test_two_files_of_one_folder_lie_on_one_volume(tmp_path: Path) -> None:
    """Whatever the system is, a volume is known, and its root holds the file."""
    for name in ("a", "b"):
        (tmp_path / name).write_bytes(b"")
    first, second = identify_volume(tmp_path / "a"), identify_volume(tmp_path / "b")
    assert first == second == identify_volume(tmp_path)
    assert first.id
    assert Path(os.path.realpath(tmp_path)).is_relative_to(first.root)
    assert os.path.ismount(first.root)


@linux
def test_another_file_system_is_another_volume(tmp_path: Path) -> None:
    """What the system makes up is not the file system of the test."""
    assert identify_volume(Path("/proc")).id != identify_volume(tmp_path).id


def test_a_link_lies_where_its_file_does(place: Path, tmp_path: Path) -> None:
    """The bytes are read through the link, so it is their volume that counts."""
    (place / "a").write_bytes(b"")
    (tmp_path / "link").symlink_to(place / "a")
    assert identify_volume(tmp_path / "link") == identify_volume(place)


def test_what_is_not_there_has_no_volume(tmp_path: Path) -> None:
    """An absent path, and one that can be none, are on no volume."""
    for name in ("none", "a\0b", "x" * 300):
        assert identify_volume(tmp_path / name) == Volume()


def test_a_known_file_system_is_told_by_its_own_id(
    place: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The id that was written when the drive was formatted stays with it on every computer."""
    device = place.stat().st_dev
    ids = tmp_path / "by-uuid"
    ids.mkdir()
    for name in ("0000-0000", "9C33-6BBD"):
        (ids / name).write_bytes(b"")
    numbers = {str(ids / "0000-0000"): 1, str(ids / "9C33-6BBD"): device}
    monkeypatch.setattr(volumes, "_BY_UUID", ids)
    monkeypatch.setattr(volumes, "_read_device", lambda source: numbers.get(source, 0))
    assert identify_volume(place) == Volume("uuid:9C33-6BBD", place.as_posix())
    # A file system of several drives has a number of its own; its source leads to one of them.
    table = write_table(tmp_path, str(place).replace(" ", "\\040"), "btrfs", "/dev/sdx1")
    monkeypatch.setattr(volumes, "_MOUNTS", table)
    numbers |= {str(ids / "9C33-6BBD"): 7, "/dev/sdx1": 7}
    assert identify_volume(place).id == "uuid:9C33-6BBD"


@pytest.mark.parametrize(
    ("kind", "source", "told"),
    [
        ("cifs", "//office/survey\\040data", "share://office/survey data"),
        ("nfs4", "office:/export/jobs", "share:office:/export/jobs"),
    ],
)
def test_a_share_is_told_by_server_and_name(
    place: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, kind: str, source: str, told: str
) -> None:
    """The last mount at a place counts; blanks in the table are undone."""
    table = write_table(tmp_path, str(place).replace(" ", "\\040"), kind, source)
    monkeypatch.setattr(volumes, "_MOUNTS", table)
    assert identify_volume(place) == Volume(told, place.as_posix())


@pytest.mark.parametrize("table", [b"", b"rubbish\n", b" - \n", b"\xff - \xff\n"])
def test_a_table_that_says_nothing_leaves_the_number_of_the_device(
    place: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, table: bytes
) -> None:
    """A number of this computer is better than a guess, and is known for what it is."""
    (tmp_path / "mountinfo").write_bytes(table)
    monkeypatch.setattr(volumes, "_MOUNTS", tmp_path / "mountinfo")
    found = identify_volume(place)
    assert found.id == f"device:{place.stat().st_dev:x}"
    assert not is_lasting(found.id)


def test_only_ids_that_stay_with_a_volume_are_lasting() -> None:
    """Two numbers of devices may be one drive that was plugged in twice."""
    assert [is_lasting(name) for name in ("uuid:1", "serial:1", "share://a/b", "device:1", "")] == [
        True,
        True,
        True,
        False,
        False,
    ]
