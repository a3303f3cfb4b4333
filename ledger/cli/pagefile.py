"""Writing a page to be printed: a new file, never among raw or delivered data."""

from __future__ import annotations

from pathlib import Path

from ledger.errors import UsageError
from ledger.loading import load_part
from ledger.wholefile import write_new

_SUFFIXES = (".html", ".htm")


def require_page(path: Path, job: Path | None) -> None:
    """Refuse a place where no page may lie, before anything is computed.

    Args:
        path: where the page is wanted.
        job: the job at hand; None outside of any.

    Raises:
        UsageError: it is named as no page, something lies there, or it is among raw data, files of
            a delivery or recorded files.
        BookError: the book cannot be read.
    """
    if path.suffix.lower() not in _SUFFIXES:
        raise UsageError(
            "a page is for a browser",
            found=path.name,
            expected="a name that ends in .html",
            remedy=f"name it {path.name}.html",
        )
    load_part("ledger.outgoing", "require_new_beside")(job, path)


def write_page(path: Path, text: str) -> None:
    """Write a page.

    Args:
        path: a file that is not there yet.
        text: the page.

    Raises:
        UsageError: a file lies there already.
        UnwritableFileError: the system refuses to write it.
    """
    write_new(path, text.encode("utf-8"))
