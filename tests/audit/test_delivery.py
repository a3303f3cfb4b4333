"""Reading a delivery: what is gone, refused or no point file is told, file by file."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

import pytest

from ledger.audit.delivery import Stamp, find_changed, read_delivery
from ledger.audit.folder import list_folder
from ledger.errors import UsageError
from ledger.model.ask import NoProgress
from ledger.testing import Layout, SurveyBuilder


@pytest.fixture
def survey(tmp_path: Path) -> SurveyBuilder:
    """Return two tiles in a folder."""
    return SurveyBuilder(tmp_path / "out", Layout(compressed=False))


def test_a_file_that_is_gone_is_told(survey: SurveyBuilder) -> None:
    """A file that vanishes after the folder was listed has a fault, known digest or not."""
    found = list_folder(survey.folder)
    gone, kept = survey.paths
    known = {Stamp(kept.name, 0, 0, ""): "ab" * 32}
    gone.unlink()
    for digests in ({}, known):
        first, second = read_delivery(found, digests, NoProgress())
        assert (first.file.sha256, first.fixity) == ("", None)
        assert first.file.fault
        assert first.file.header_fault == first.file.fault
        assert second.file.fault == ""
        assert second.file.header is not None


def test_a_file_that_vanishes_after_it_was_hashed_has_changed(survey: SurveyBuilder) -> None:
    """Gone is changed: the entry would speak of bytes that are not there any more."""
    files = read_delivery(list_folder(survey.folder), {}, NoProgress())
    assert find_changed(files) == ()
    survey.paths[1].unlink()
    assert find_changed(files) == (survey.paths[1].name,)


def test_a_header_that_cannot_be_read_is_told_beside_the_digest(survey: SurveyBuilder) -> None:
    """A file with a broken header is hashed like any other, with the reason beside it."""
    survey.bad_signature(0)
    file = read_delivery(list_folder(survey.folder), {}, NoProgress())[0].file
    assert file.sha256
    assert file.fault == ""
    assert file.header is None
    assert file.header_fault


def test_hashing_is_counted_in_bytes(survey: SurveyBuilder) -> None:
    """Progress is told the bytes of the files to hash, and every one of them."""
    seen: list[Any] = []

    class Watch(NoProgress):
        def start(self, label: str, total: int, unit: str) -> None:
            seen.append((label, total, unit))

        def advance(self, amount: int) -> None:
            seen.append(amount)

    read_delivery(list_folder(survey.folder), {}, Watch())
    total = sum(path.stat().st_size for path in survey.paths)
    assert seen[0] == ("hashing", total, "bytes")
    assert sum(seen[1:]) == total


@pytest.mark.parametrize("refused", ["inner", ""])
def test_a_folder_that_the_system_will_not_list(
    survey: SurveyBuilder, monkeypatch: pytest.MonkeyPatch, refused: str
) -> None:
    """An inner folder stands in the list with the reason; the folder itself is an error of use."""
    (survey.folder / "inner").mkdir()
    shut = Path(os.path.realpath(survey.folder / refused))
    original = os.scandir

    def scan(path: Any) -> Any:
        if Path(path) == shut:
            raise PermissionError(13, "Permission denied")
        return original(path)

    monkeypatch.setattr(os, "scandir", scan)
    if refused:
        faults = {found.name: found.fault for found in list_folder(survey.folder)}
        assert faults["inner"] == "it is a folder that cannot be listed: Permission denied"
    else:
        with pytest.raises(UsageError, match="cannot be listed: found Permission denied"):
            list_folder(survey.folder)
