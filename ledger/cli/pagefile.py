"""Writing a page to be printed: a new file, never among the raw data, never over another one."""

from __future__ import annotations

import os
from pathlib import Path

from ledger.errors import UnwritableFileError, UsageError
from ledger.jobfolder import find_places

_SUFFIXES = (".html", ".htm")


def require_page_name(path: Path) -> None:
    """Refuse a name that no browser opens.

    Raises:
        UsageError: it does not end in `.html`.
    """
    if path.suffix.lower() not in _SUFFIXES:
        raise UsageError(
            "a card is a page for a browser",
            found=path.name,
            expected="a name that ends in .html",
            remedy=f"name it {path.name}.html",
        )


def require_outside_raw(path: Path, job: Path) -> None:
    """Refuse a page among the raw data of a job.

    Raises:
        UsageError: it would lie there.
    """
    whole = Path(os.path.abspath(path))  # noqa: PTH100 - without `..`; links stay links
    if whole.is_relative_to(find_places(job).raw):
        raise UsageError(
            "nothing is written among the raw data", where=str(path), remedy="name another folder"
        )


def write_page(path: Path, text: str) -> None:
    """Write a page.

    Args:
        path: a file that is not there yet.
        text: the page.

    Raises:
        UsageError: a file lies there already.
        UnwritableFileError: the system refuses to write it.
    """
    try:
        with path.open("x", encoding="utf-8", newline="\n") as stream:
            stream.write(text)
    except FileExistsError:
        raise UsageError(
            "a file lies there already, and is not written over",
            where=str(path),
            remedy="name another one",
        ) from None
    except OSError as error:
        raise UnwritableFileError(
            f"the card was not written: {error.strerror or error}",
            where=str(path),
            remedy="name a folder that is there and takes files",
        ) from error
