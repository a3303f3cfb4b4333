"""A job is begun whole or not at all."""

from __future__ import annotations

from pathlib import Path

import pytest

from ledger.errors import UsageError
from ledger.model.ask import NoProgress
from ledger.model.entry import Kind
from ledger.specfile.reading import read_specification
from ledger.start import start_job
from ledger.store.reading import Book
from ledger.store.writing import BookWriter


def list_everything(folder: Path) -> dict[str, bytes | None]:
    """Return every path below a folder with its content, None for folders."""
    return {
        path.relative_to(folder).as_posix(): path.read_bytes() if path.is_file() else None
        for path in folder.rglob("*")
    }


def test_new_job_has_folders_specification_and_book(tmp_path: Path) -> None:
    """The folder holds raw/, out/, a valid job.toml and an unbroken book that names both."""
    result = start_job(tmp_path / "a" / "job", "QM-1", 'Pit "one"', by="surveyor")
    folder = tmp_path / "a" / "job"
    assert (result.folder, result.specification) == (folder, folder / "job.toml")
    assert (folder / "raw").is_dir()
    assert (folder / "out").is_dir()
    read = read_specification(result.specification)
    assert (read.job.reference, read.job.title) == ("QM-1", 'Pit "one"')
    with Book.open(folder) as book:
        job, specification = book.entries()
        assert (job.kind, job.by) == (Kind.JOB, "surveyor")
        assert job.values == {"reference": "QM-1", "title": 'Pit "one"', "like": ""}
        assert specification.kind == Kind.SPECIFICATION
        assert book.blob(specification.values["sha256"]) == result.specification.read_bytes()
        assert book.check(NoProgress()).unbroken


def test_nothing_given_is_all_blanks(tmp_path: Path) -> None:
    """A job without reference and title has them as blanks, not as empty texts."""
    result = start_job(tmp_path / "job", " ", "")
    read = read_specification(result.specification)
    assert (read.job.reference, read.job.title) == (None, None)


def test_folder_with_other_files_becomes_a_job(tmp_path: Path) -> None:
    """Files that lie there already stay as they are."""
    (tmp_path / "raw").mkdir()
    (tmp_path / "raw" / "cap.bin").write_bytes(b"raw")
    start_job(tmp_path)
    assert (tmp_path / "raw" / "cap.bin").read_bytes() == b"raw"


@pytest.mark.parametrize("name", ["swathbook.sqlite", "job.toml"])
def test_folder_that_is_a_job_is_refused(tmp_path: Path, name: str) -> None:
    """One line, and not a byte of the folder is touched."""
    (tmp_path / name).write_bytes(b"mine")
    before = list_everything(tmp_path)
    with pytest.raises(UsageError, match=f"{name} in this folder already") as caught:
        start_job(tmp_path, "QM-1")
    assert len(str(caught.value).splitlines()) == 1
    assert list_everything(tmp_path) == before


@pytest.mark.parametrize("inner", ["pit-2", "raw/pit-2", "new/deep/pit-2", "../pit/pit-2"])
def test_job_inside_a_job_is_refused(tmp_path: Path, inner: str) -> None:
    """Standing in a job when the next one is started is a slip: one line, and where it belongs."""
    job = tmp_path / "pit"
    start_job(job)
    before = list_everything(tmp_path)
    with pytest.raises(UsageError, match="a job inside another job is a slip") as caught:
        start_job(job / inner)
    assert str(caught.value).endswith(f"swathbook start {tmp_path / 'pit-2'}")
    assert len(str(caught.value).splitlines()) == 1
    assert list_everything(tmp_path) == before


def test_folder_of_jobs_is_no_job(tmp_path: Path) -> None:
    """The folder in which the jobs lie does not become one by mistake."""
    start_job(tmp_path / "pit")
    before = list_everything(tmp_path)
    with pytest.raises(UsageError, match="holds a job already"):
        start_job(tmp_path)
    assert list_everything(tmp_path) == before


def test_job_beside_a_job_is_made(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """From inside a job, a path that leads out of it is no slip."""
    start_job(tmp_path / "pit")
    monkeypatch.chdir(tmp_path / "pit")
    assert start_job(Path("../pit-2")).folder == tmp_path / "pit-2"


def test_file_in_place_of_the_folder_is_refused(tmp_path: Path) -> None:
    """A file of that name is an error of ours."""
    (tmp_path / "job").write_bytes(b"x")
    with pytest.raises(UsageError, match="this is a file"):
        start_job(tmp_path / "job")


def test_file_on_the_way_is_refused(tmp_path: Path) -> None:
    """A file where a folder above should be is an error of ours, and leaves nothing."""
    (tmp_path / "a").write_bytes(b"x")
    with pytest.raises(UsageError, match="cannot be made"):
        start_job(tmp_path / "a" / "job")
    assert list_everything(tmp_path) == {"a": b"x"}


@pytest.mark.parametrize("failure", [OSError(28, "No space left"), KeyboardInterrupt()])
def test_failure_leaves_nothing_half_written(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, failure: BaseException
) -> None:
    """Whatever stops the command while the book is written, nothing of the job is left."""
    (tmp_path / "job").mkdir()
    (tmp_path / "job" / "note.txt").write_bytes(b"mine")

    def fail(*_: object) -> None:
        raise failure

    monkeypatch.setattr(BookWriter, "append_all", fail)
    with pytest.raises((UsageError, KeyboardInterrupt)):
        start_job(tmp_path / "job" / "deeper" / "still")
    assert list_everything(tmp_path) == {"job": None, "job/note.txt": b"mine"}


def test_failure_inside_the_book_leaves_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What the book's writer leaves beside it goes too, when the book cannot be written."""

    def fail(*_: object) -> None:
        raise OSError(28, "No space left")

    monkeypatch.setattr("ledger.store.writing.make_body", fail)
    (tmp_path / "raw").mkdir()
    with pytest.raises(UsageError, match="No space left"):
        start_job(tmp_path)
    assert list_everything(tmp_path) == {"raw": None}


def test_title_with_a_line_break_is_quoted(tmp_path: Path) -> None:
    """No text that is given can break the file."""
    title = 'a\nb = "c" \\ # [x] \u202e \x7f'
    result = start_job(tmp_path / "job", title=title)
    assert read_specification(result.specification).job.title == title
