"""Orphans are one finding each, and one command a group: by folder and header.

The patterns are held against `fnmatch`, which reads them as a shell does.
"""

from __future__ import annotations

import shlex
from fnmatch import fnmatchcase
from pathlib import PurePosixPath
from typing import Any

import pytest

from ledger.contract.evidence import DeliveredFile
from ledger.model.finding import Grade
from ledger.model.header import LasHeader
from ledger.model.lineage import Custody, CustodyState, MatchedBy
from ledger.testing.driver import drive_check, make_evidence, make_file
from lidar_checks.lineage.custody_of_points import CustodyOfPoints
from lidar_checks.lineage.orphan_groups import group_orphans

NOTHING = Custody(CustodyState.ORPHAN, MatchedBy.NOTHING)


def make_header(software: str = "demo-proc 4.1.0", day: int = 134) -> LasHeader:
    """Return a header that differs from others in what parts groups."""
    return LasHeader(
        version="1.4", point_format=6, compressed=False, copc=False, record_length=30,
        point_count=1, legacy_count=0, by_return=(1, *(0,) * 14), legacy_by_return=(0,) * 5,
        scale=(0.001,) * 3, offset=(0.0,) * 3, minimum=(0.0,) * 3, maximum=(1.0,) * 3,
        global_encoding=17, file_source_id=0, system_identifier="", generating_software=software,
        creation_day=day, creation_year=2026, header_size=375, offset_to_points=375, file_size=405,
    )  # fmt: skip


def orphan(path: str, software: str = "demo-proc 4.1.0", **parts: Any) -> DeliveredFile:
    """Return a point file that no process made."""
    given: dict[str, Any] = {"header": make_header(software), "custody": NOTHING, **parts}
    return make_file(path, **given)


def commands(*files: DeliveredFile, others: tuple[DeliveredFile, ...] = ()) -> dict[str, str]:
    """Return the command for each orphan."""
    found = group_orphans("deliver", files, (*files, *others))
    return {path: each.command for path, each in found.items()}


def list_meant(command: str, files: tuple[DeliveredFile, ...]) -> set[str]:
    """Return the paths that the words behind `swathbook record` mean, as a shell reads them."""
    words = [word.removeprefix("deliver").lstrip("/") for word in shlex.split(command)[2:]]
    meant = set()
    for file in files:
        path = PurePosixPath(file.path)
        for word in words:
            inside = word == "" or PurePosixPath(word) in path.parents
            matches = path.parent == PurePosixPath(word).parent and fnmatchcase(
                path.name, PurePosixPath(word).name
            )
            if inside or matches:
                meant.add(file.path)
    return meant


def test_three_hundred_orphans_of_one_folder_are_one_command() -> None:
    """The folder is named where it holds nothing else."""
    files = tuple(orphan(f"north/tile_{number:03d}.las") for number in range(300))
    found = commands(*files)
    assert set(found.values()) == {"swathbook record deliver/north"}


def test_a_document_beside_them_is_not_recorded_with_them() -> None:
    """Where the folder holds a report too, the files are named by their suffix."""
    files = tuple(orphan(f"tile_{number:03d}.las") for number in range(9))
    report = make_file("report.md", kind="document")
    found = commands(*files, others=(report,))
    assert set(found.values()) == {"swathbook record deliver/*.las"}


def test_a_file_of_a_run_is_never_meant() -> None:
    """A pattern leaves out what is explained, though it lies in the same folder."""
    files = tuple(orphan(f"strip_{number}.las") for number in range(9))
    explained = make_file("tile_1.las")
    (command,) = set(commands(*files, others=(explained,)).values())
    assert command == "swathbook record deliver/strip_*.las"
    assert list_meant(command, (*files, explained)) == {file.path for file in files}


def test_two_programs_are_two_groups() -> None:
    """Files of one folder with two kinds of header are recorded apart."""
    old = tuple(orphan(f"old_{number}.las", "demo-proc 4.0.9") for number in range(6))
    new = tuple(orphan(f"new_{number}.las") for number in range(6))
    found = commands(*old, *new)
    assert set(found.values()) == {
        "swathbook record deliver/old_*.las",
        "swathbook record deliver/new_*.las",
    }


def test_groups_that_no_pattern_parts_are_named_together() -> None:
    """Interleaved names: each file alone, and one command with --together for all of them."""
    programs = ("demo-proc 4.0.9", "demo-proc 4.1.0")
    files = tuple(orphan(f"t_{number:02d}.las", programs[number % 2]) for number in range(12))
    explained = make_file("z.las")
    found = commands(*files, others=(explained,))
    assert found["t_00.las"] == (
        "swathbook record deliver/t_00.las; where one run made them all: "
        "swathbook record deliver/t_*.las --together"
    )


def test_a_few_are_named_one_by_one_and_quoted() -> None:
    """Up to four are typed out; a blank in a name is quoted for the shell."""
    files = (orphan("a b.las"), orphan("c.las"))
    (command,) = set(commands(*files).values())
    assert command == "swathbook record 'deliver/a b.las' deliver/c.las"
    assert list_meant(command, files) == {"a b.las", "c.las"}


def test_rasters_go_with_the_only_point_files_beside_them() -> None:
    """A surface model has no header of points; it lies beside the tiles that it was made with."""
    files = tuple(orphan(f"out/tile_{number}.las") for number in range(5))
    raster = orphan("out/dtm.tif", kind="raster", header=None)
    found = commands(*files, raster)
    assert set(found.values()) == {"swathbook record deliver/out"}


@pytest.mark.parametrize("count", [1, 5])
def test_each_orphan_is_a_finding_of_its_own(count: int) -> None:
    """One minor finding a file, each with the command of its group and what its header says."""
    files = tuple(orphan(f"tile_{number}.las") for number in range(count))
    findings = drive_check(CustodyOfPoints(), make_evidence(*files, recorded=1))
    assert [finding.subject for finding in findings] == [file.path for file in files]
    assert {finding.grade for finding in findings} == {Grade.MINOR}
    assert len({finding.id for finding in findings}) == count
    assert "(demo-proc 4.1.0, made 2026-05-14, scale 0.001)" in findings[0].sentence
    them = "it (swathbook record out/tile_0.las)" if count == 1 else "them (swathbook record out)"
    assert findings[0].remedy == f"Record what made {them}"
