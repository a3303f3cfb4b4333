"""Names, paths and sizes that a client's computer may refuse.

Largest file on FAT32: 2^32 - 1 bytes; device names and characters of Windows: from memory.
"""

from __future__ import annotations

import pytest

from ledger.model.finding import Grade, Outcome
from ledger.testing.driver import drive_check, make_evidence, make_file
from lidar_checks.header.package_limits import PackageLimits


def judge(*paths, size=10):
    """Return the findings about files of those names."""
    return drive_check(
        PackageLimits(), make_evidence(*(make_file(p, bytes=size, kind="points") for p in paths))
    )


@pytest.mark.parametrize(
    "path",
    ["a:b.laz", "12:30/a.laz", "con.laz", "tiles/AUX/a.laz", "name./a.laz", "a .", 'a"b.laz', "a?"],
)
def test_names_that_windows_refuses_are_told(path):
    """Colons, devices, final dots and blanks, in a file or a folder."""
    (finding,) = judge(path, "good.laz")
    assert finding.grade is Grade.OBSERVATION
    assert "1 file cannot be unpacked on Windows" in finding.sentence


def test_ordinary_names_conform():
    """Letters of any script, dots inside, names that only begin like a device."""
    (finding,) = judge("tiles/Größe 1.copc.laz", "console.laz", "com10.txt")
    assert finding.outcome is Outcome.CONFORMS


def test_names_that_differ_in_case_only_are_told():
    """Files, and folders of other capitals, fall together on Windows."""
    (finding,) = judge("a.laz", "A.LAZ")
    assert "1 file differs in upper and lower case only" in finding.sentence
    assert judge("x/a.laz", "X/b.laz")[0].grade is Grade.OBSERVATION
    assert judge("x/a.laz", "y/A.laz")[0].outcome is Outcome.CONFORMS


def test_paths_just_too_long_and_just_short_enough():
    """240 characters conform, 241 do not."""
    assert judge("a" * 236 + ".laz")[0].outcome is Outcome.CONFORMS
    (finding,) = judge("a" * 237 + ".laz")
    assert "1 file has paths of more than 240 characters" in finding.sentence


def test_files_just_too_large_and_just_small_enough():
    """FAT32 holds 2^32 - 1 bytes."""
    assert judge("a.laz", size=2**32 - 1)[0].outcome is Outcome.CONFORMS
    (finding,) = judge("a.laz", "b.laz", size=2**32)
    assert "2 files are larger than 4,294,967,295 bytes" in finding.sentence


def test_an_empty_folder_is_not_assessed():
    """Nothing to send is no pass."""
    assert judge()[0].outcome is Outcome.NOT_ASSESSED
