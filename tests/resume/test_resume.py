"""What an interrupted command had hashed counts only while the file is what it was."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from ledger.fixity import read_fixity
from ledger.resume import ResumeList


@pytest.fixture
def raw(tmp_path: Path) -> Path:
    """Return a file."""
    path = tmp_path / "raw.las"
    path.write_bytes(b"LASF")
    return path


@pytest.fixture
def kept(tmp_path: Path, raw: Path) -> Path:
    """Return a list that an earlier command left, with that file."""
    path = tmp_path / "list"
    ResumeList(path).keep(raw, read_fixity(raw))
    return path


def test_a_kept_digest_is_found_again(kept: Path, raw: Path) -> None:
    """The next command finds what the last one hashed."""
    assert ResumeList(kept).find(raw) == read_fixity(raw)


def test_other_files_are_not_known(kept: Path, raw: Path) -> None:
    """A digest belongs to one path."""
    assert ResumeList(kept).find(raw.with_name("other.las")) is None


def test_names_of_any_kind_are_kept(tmp_path: Path) -> None:
    """Names with line breaks, quotes and bytes that are no text come back."""
    names = [b"a\nb", b'a"b\\', b"a\x80b", "Núñez".encode()]
    paths = [tmp_path / os.fsdecode(name) for name in names]
    for path in paths:
        path.write_bytes(b"x")
        ResumeList(tmp_path / "list").keep(path, read_fixity(path))
    again = ResumeList(tmp_path / "list")
    assert [again.find(path) for path in paths] == [read_fixity(path) for path in paths]


def test_other_bytes_of_the_same_size_do_not_count(kept: Path, raw: Path) -> None:
    """A file that was written again is hashed again."""
    before = raw.stat().st_mtime_ns
    raw.write_bytes(b"fsal")
    os.utime(raw, ns=(before + 1, before + 1))
    assert ResumeList(kept).find(raw) is None


def test_another_size_does_not_count(kept: Path, raw: Path) -> None:
    """A file that grew with its time put back is hashed again."""
    before = raw.stat()
    raw.write_bytes(b"LASF more")
    os.utime(raw, ns=(before.st_atime_ns, before.st_mtime_ns))
    assert ResumeList(kept).find(raw) is None


def test_another_file_in_its_place_does_not_count(kept: Path, raw: Path) -> None:
    """A file of the same size and time that is another one is hashed again."""
    before = raw.stat()
    other = raw.with_name("other")
    other.write_bytes(b"FSAL")
    os.utime(other, ns=(before.st_atime_ns, before.st_mtime_ns))
    other.replace(raw)
    assert ResumeList(kept).find(raw) is None


def test_a_file_that_is_gone_does_not_count(kept: Path, raw: Path) -> None:
    """What is not there has no digest."""
    raw.unlink()
    assert ResumeList(kept).find(raw) is None


@pytest.mark.parametrize(
    "line",
    [
        b'{"path": "x", "sha256": "ab"',
        b"[1]\n",
        b"null\n",
        b'{"path": "x"}\n',
        b'{"path": "x", "sha256": "ab", "bytes": 1, "mtime_ns": 1, "file_id": "1", "more": 1}\n',
        b"\n",
    ],
)
def test_a_line_that_is_cut_or_strange_is_left_out(kept: Path, raw: Path, line: bytes) -> None:
    """An interruption in the middle of a line loses that line alone."""
    kept.write_bytes(kept.read_bytes() + line)
    assert ResumeList(kept).find(raw) == read_fixity(raw)
    assert ResumeList(kept).find(Path("x")) is None


@pytest.mark.parametrize("content", [b"\xff\xfe\x00", b""])
def test_a_list_that_is_no_text_counts_for_nothing(
    tmp_path: Path, raw: Path, content: bytes
) -> None:
    """A list may be lost at any time; then everything is hashed."""
    (tmp_path / "list").write_bytes(content)
    assert ResumeList(tmp_path / "list").find(raw) is None


def test_a_list_that_can_be_kept_has_no_fault(kept: Path, raw: Path, tmp_path: Path) -> None:
    """Also in a folder that is not there yet."""
    assert ResumeList(kept).fault == ""
    anew = ResumeList(tmp_path / "scratch" / "list")
    anew.keep(raw, read_fixity(raw))
    assert anew.fault == ""
    assert ResumeList(tmp_path / "scratch" / "list").find(raw) == read_fixity(raw)


@pytest.mark.parametrize("spoiled", ["the list", "its folder", "the folder above"])
def test_a_place_that_takes_no_list_stops_nobody(tmp_path: Path, raw: Path, spoiled: str) -> None:
    """Nothing is kept, that is known from the start, and everything else goes on."""
    path = tmp_path / "scratch" / "list"
    if spoiled == "the list":
        path.mkdir(parents=True)
    if spoiled == "its folder":
        path.parent.write_bytes(b"in the way")
    if spoiled == "the folder above":
        path = tmp_path / "none" / "scratch" / "list"
    resume = ResumeList(path)
    assert resume.fault
    resume.keep(raw, read_fixity(raw))
    assert resume.find(raw) is None
    resume.clear()


def test_a_drive_that_fills_up_is_noticed(
    kept: Path, raw: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What was kept before counts; that nothing more is kept is known."""
    resume = ResumeList(kept)
    other = raw.with_name("other")
    other.write_bytes(b"x")

    def refuse(*_: object, **__: object) -> None:
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as patch:
        patch.setattr(Path, "open", refuse)
        resume.keep(other, read_fixity(other))
    assert resume.fault == "No space left on device"
    assert ResumeList(kept).find(raw) == read_fixity(raw)
    assert ResumeList(kept).find(other) is None


def test_clearing_forgets_and_may_be_repeated(kept: Path) -> None:
    """What is entered need not be kept aside."""
    again = ResumeList(kept)
    again.clear()
    again.clear()
    assert not kept.exists()


def test_a_cut_line_does_not_swallow_the_next(kept: Path, raw: Path) -> None:
    """What is kept after an interruption in the middle of a line is found as well."""
    kept.write_bytes(kept.read_bytes()[:-10])
    ResumeList(kept).keep(raw, read_fixity(raw))
    assert ResumeList(kept).find(raw) == read_fixity(raw)
