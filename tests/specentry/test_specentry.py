"""Each new text of `job.toml` is an entry; the same text again is none."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from ledger.canonical import compute_digest
from ledger.errors import UnreadableFileError
from ledger.specentry import enter_specification
from ledger.store.writing import BookWriter, create_book

KIND = "specification"


@pytest.fixture
def writer(tmp_path: Path):
    """Return an open empty book."""
    with create_book(tmp_path) as book:
        yield book


def list_entered(writer: BookWriter) -> list[bytes]:
    """Return the texts that were entered."""
    return [writer.blob(entry.values["sha256"]) for entry in writer.entries(KIND)]


def test_a_text_is_entered_once(writer: BookWriter) -> None:
    """The first text is entered with its bytes, who entered it, and its digest."""
    (writer.folder / "job.toml").write_bytes(b"# wishes\r\n")
    enter_specification(writer, "site engineer")
    enter_specification(writer, "technician")
    (entry,) = writer.entries(KIND)
    assert (entry.by, entry.values["bytes"]) == ("site engineer", 10)
    assert entry.values["sha256"] == compute_digest(b"# wishes\r\n")
    assert list_entered(writer) == [b"# wishes\r\n"]


def test_every_change_is_entered(writer: BookWriter) -> None:
    """A text that comes back after another one is entered again: the last entry is what counts."""
    for text in (b"a = 1", b"a = 2", b"a = 1", b"a = 1"):
        (writer.folder / "job.toml").write_bytes(text)
        enter_specification(writer, "technician")
    assert list_entered(writer) == [b"a = 1", b"a = 2", b"a = 1"]


def test_without_the_file_nothing_is_entered(writer: BookWriter) -> None:
    """A job without `job.toml` still takes entries."""
    enter_specification(writer, "technician")
    assert writer.size == 0


@pytest.mark.parametrize("content", [b"\xff\xfe", b"[not TOML", b""])
def test_any_bytes_are_entered(writer: BookWriter, content: bytes) -> None:
    """What is entered need not be valid: it is what lay there."""
    (writer.folder / "job.toml").write_bytes(content)
    enter_specification(writer, "technician")
    assert list_entered(writer) == [content]


@pytest.mark.parametrize("kind", ["folder", "pipe", "broken link"])
def test_what_cannot_be_read_is_an_error(writer: BookWriter, kind: str) -> None:
    """Something in its place is refused, so that nobody believes it was entered."""
    path = writer.folder / "job.toml"
    if kind == "folder":
        path.mkdir()
    if kind == "pipe":
        os.mkfifo(path)
    if kind == "broken link":
        path.symlink_to("nothing")
    with pytest.raises(UnreadableFileError, match=r"job\.toml cannot be read"):
        enter_specification(writer, "technician")
    assert writer.size == 0
