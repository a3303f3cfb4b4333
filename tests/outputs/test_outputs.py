"""Which outputs no run explains: one rule, told from names, sizes and times."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from made_book import MadeBook

from ledger.outputs import FoundOutput, Outputs, sort_outputs


@pytest.fixture
def book(tmp_path: Path) -> MadeBook:
    """Give an empty job."""
    return MadeBook(tmp_path / "job")


def ask(book: MadeBook) -> dict[str, list[str]]:
    """Return the names of the files in out/, by what is said of them."""
    outputs = sort_outputs(book.writer, book.folder / "out")
    return {
        kind: [each.name.removeprefix("out/") for each in getattr(outputs, kind)]
        for kind in ("explained", "touched", "waiting", "beside")
        if getattr(outputs, kind)
    }


def test_no_folder_is_no_output(book: MadeBook) -> None:
    """Where nothing was processed yet there is no folder, and that is no fault."""
    assert sort_outputs(book.writer, book.folder / "out") == Outputs()


def test_outputs_of_runs_and_registered_files_are_explained(book: MadeBook) -> None:
    """What a run made, and what came in raw, waits for nothing."""
    for name in ("a.las", "b.tif", "c.las"):
        book.write(f"out/{name}", name)
    book.run("out/a.las", "out/b.tif")
    book.register("out/c.las")
    assert ask(book) == {"explained": ["a.las", "b.tif", "c.las"]}


def test_points_and_rasters_without_a_run_wait(book: MadeBook) -> None:
    """By their suffix, in any case, or by the first bytes; what was only seen waits too."""
    for name in ("a.las", "b.LAZ", "c.tiff"):
        book.write(f"out/{name}", name)
    book.write("out/d.bin", "LASF and more")
    book.sight(book.see("out/a.las"))
    assert ask(book) == {"waiting": ["a.las", "b.LAZ", "c.tiff", "d.bin"]}


def test_other_files_wait_for_nothing(book: MadeBook) -> None:
    """A document needs no run; hidden files and what office programs leave are not even named."""
    for name in ("log.txt", ".hidden.las", "~$report.docx"):
        book.write(f"out/{name}", name)
    assert ask(book) == {"beside": ["log.txt"]}


def test_another_time_alone_is_told_apart(book: MadeBook) -> None:
    """Same size, other time: the bytes may be the same, and nobody has looked."""
    for name in ("a.las", "b.las"):
        book.write(f"out/{name}", name)
    book.run("out/a.las", "out/b.las")
    os.utime(book.folder / "out/a.las", ns=(1, 1))
    book.write("out/b.las", "longer than before")
    assert ask(book) == {"touched": ["a.las"], "waiting": ["b.las"]}


def test_the_book_and_its_scratch_are_no_outputs(book: MadeBook) -> None:
    """Where the job folder itself is the folder of outputs, the book is left aside."""
    book.write("a.las", "a")
    book.write(".swathbook/draft.las", "draft")
    outputs = sort_outputs(book.writer, book.folder)
    assert outputs == Outputs(waiting=(FoundOutput(book.folder / "a.las", "a.las"),))
