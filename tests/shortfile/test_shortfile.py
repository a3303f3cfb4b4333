"""A small file is read whole; whatever else stands under its name is refused, never waited for."""

from __future__ import annotations

import os
import socket
from pathlib import Path

import pytest

from ledger.errors import UnreadableFileError
from ledger.shortfile import read_short_file


def test_the_content_is_returned(tmp_path: Path) -> None:
    """The bytes come as they are, up to and including the largest size."""
    path = tmp_path / "form.toml"
    path.write_bytes(b"a\r\n\xff")
    assert read_short_file(path, "the form", most=4) == b"a\r\n\xff"


def test_a_link_to_a_file_is_that_file(tmp_path: Path) -> None:
    """Links are followed."""
    (tmp_path / "form.toml").write_bytes(b"a")
    (tmp_path / "link").symlink_to("form.toml")
    assert read_short_file(tmp_path / "link", "the form") == b"a"


def test_a_large_file_is_refused(tmp_path: Path) -> None:
    """A file of gigabytes under that name must not fill the memory."""
    path = tmp_path / "form.toml"
    with path.open("wb") as stream:
        stream.truncate(1 << 40)
    with pytest.raises(UnreadableFileError, match="the form is too large to be one"):
        read_short_file(path, "the form")


@pytest.mark.parametrize(
    ("kind", "words"),
    [
        ("nothing", "there is no such file"),
        ("folder", "it is a folder"),
        ("loop", "round in a circle"),
        ("broken", "it is a link that leads to nothing"),
        ("pipe", "it is a pipe"),
        ("socket", "it is a socket"),
    ],
)
def test_what_is_no_regular_file_is_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, kind: str, words: str
) -> None:
    """Nothing but a regular file is opened: a pipe would wait for a writer."""
    monkeypatch.chdir(tmp_path)  # the path of a socket has to be short
    Path("folder").mkdir()
    Path("loop").symlink_to("loop")
    Path("broken").symlink_to("nothing")
    if kind == "pipe":
        os.mkfifo("pipe")
    if kind == "socket":
        with socket.socket(socket.AF_UNIX) as made:
            made.bind("socket")
    with pytest.raises(UnreadableFileError) as caught:
        read_short_file(tmp_path / kind, "the form")
    (fault,) = caught.value.faults
    assert fault.what.startswith("the form cannot be read: ")
    assert words in fault.what
    assert fault.where == str(tmp_path / kind)


def test_a_drive_that_fails_is_one_error(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """What the system refuses while reading is told with the name of the file."""
    path = tmp_path / "form.toml"
    path.write_bytes(b"a")

    def refuse(*_: object, **__: object) -> None:
        raise OSError(5, "Input/output error")

    monkeypatch.setattr(Path, "open", refuse)
    with pytest.raises(UnreadableFileError, match="the form cannot be read: found Input/output"):
        read_short_file(path, "the form")
