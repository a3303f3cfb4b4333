"""Where things lie in a job, told without a valid `job.toml`."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from ledger.errors import NoBookError
from ledger.jobfolder import Places, find_job, find_places, leave_out_book, make_scratch, read_names
from ledger.store.writing import create_book

BAD = {
    "no TOML": b"[folders\n",
    "Latin-1": "[folders]\nout = 'Ausgänge'\n".encode("latin-1"),
    "UTF-16": "[folders]\nout = 'x'\n".encode("utf-16"),
    "too deep": b"[folders]\nout = " + b"[" * 100_000,
    "long number": b"[folders]\ncopies = " + b"1" * 5000,
    "other kinds": b"[folders]\nraw = 1\nout = ['x']\ncopies = 'two'\n",
    "folders no table": b"folders = 'raw'\n",
    "empty": b"",
}


def test_the_job_is_found_from_below(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The nearest folder above that holds a book is the job, also by way of `..`."""
    (tmp_path / "raw" / "card").mkdir(parents=True)
    create_book(tmp_path).close()
    assert find_job(tmp_path / "raw" / "card") == tmp_path
    monkeypatch.chdir(tmp_path / "raw")
    assert find_job(Path("../raw/card/..")) == tmp_path


def test_without_a_book_there_is_no_job(tmp_path: Path) -> None:
    """A folder outside of any job says how to begin one."""
    with pytest.raises(NoBookError, match="swathbook start"):
        find_job(tmp_path)


def test_named_folders_count(tmp_path: Path) -> None:
    """`job.toml` names the folders, a byte order mark does no harm here."""
    text = "[folders]\nraw = 'card'\nout = '/elsewhere/out'\ncopies = 3\n"
    (tmp_path / "job.toml").write_text(text, encoding="utf-8-sig")
    assert find_places(tmp_path) == Places(tmp_path / "card", Path("/elsewhere/out"), 3)


@pytest.mark.parametrize("content", BAD.values(), ids=BAD)
def test_a_bad_file_leaves_the_usual_folders(tmp_path: Path, content: bytes) -> None:
    """A person who mistyped `job.toml` still gets answers from the usual places."""
    (tmp_path / "job.toml").write_bytes(content)
    assert find_places(tmp_path) == Places(tmp_path / "raw", tmp_path / "out", 2)


@pytest.mark.parametrize("kind", ["absent", "folder", "pipe"])
def test_whatever_stands_in_place_of_the_file(tmp_path: Path, kind: str) -> None:
    """Without a readable file the usual places count, and nothing is waited for."""
    if kind == "folder":
        (tmp_path / "job.toml").mkdir()
    if kind == "pipe":
        os.mkfifo(tmp_path / "job.toml")
    assert find_places(tmp_path) == Places(tmp_path / "raw", tmp_path / "out", 2)


def test_the_book_is_no_file_of_the_job(tmp_path: Path) -> None:
    """The book, its journal and the scratch folder are left out; what only resembles them stays."""
    kept = [tmp_path / "job.toml", tmp_path / "raw" / "swathbook.sqlite", tmp_path / "a.swathbook"]
    own = [
        tmp_path / "swathbook.sqlite",
        tmp_path / "swathbook.sqlite-journal",
        tmp_path / ".swathbook" / "x",
    ]
    assert leave_out_book([*kept, *own], tmp_path) == kept


def test_scratch_is_made_once(tmp_path: Path) -> None:
    """The folder of things that may be lost is made where it is absent."""
    folder = make_scratch(tmp_path)
    (folder / "draft").write_bytes(b"x")
    assert make_scratch(tmp_path) == folder
    assert (folder / "draft").exists()


def test_the_names_of_the_job_are_read_leniently(tmp_path: Path) -> None:
    """What is text counts, whatever else is wrong with the file."""
    text = "[job]\nreference = ' A-1 '\ntitle = 3\nunknown = 'x'\n[coordinates]\nepoch = 'soon'\n"
    (tmp_path / "job.toml").write_text(text, encoding="utf-8")
    assert read_names(tmp_path) == {"reference": "A-1", "unknown": "x"}


@pytest.mark.parametrize("content", [*BAD.values(), b"job = 1\n"], ids=[*BAD, "no section"])
def test_names_that_cannot_be_read_are_none(tmp_path: Path, content: bytes) -> None:
    """Nothing known is told apart from a section that leaves everything blank."""
    (tmp_path / "job.toml").write_bytes(content)
    assert read_names(tmp_path) is None
    (tmp_path / "job.toml").write_bytes(b"[job]\n")
    assert read_names(tmp_path) == {}
