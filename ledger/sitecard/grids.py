"""The geoid grids at hand: that of `job.toml`, those that were named, those registered."""

from __future__ import annotations

import os
from collections.abc import Iterator, Sequence
from pathlib import Path

from ledger.errors import SwathbookError, UsageError
from ledger.fixity import read_fixity
from ledger.gridfiles import find_grid_file
from ledger.model.artefact import Role
from ledger.model.specification import Specification
from ledger.sitecard.heights import Grid
from ledger.store.reading import Book


def list_grids(
    job: Path | None, specification: Specification, named: Sequence[Path]
) -> tuple[Grid, ...]:
    """Return the grids at hand, that of the job first, each bytes once.

    Args:
        job: the job folder; None outside a job.
        specification: `job.toml`; a blank one outside a job.
        named: files that were named.

    Raises:
        UsageError: a file that was named is not there.
        BookError: the book cannot be read.
    """
    found: dict[str, Grid] = {}
    for key, grid in _list_all(job, specification, named):
        found.setdefault(key, grid)
    return tuple(found.values())


def _list_all(
    job: Path | None, specification: Specification, named: Sequence[Path]
) -> Iterator[tuple[str, Grid]]:
    """Yield each grid with what tells it from others: its digest, or its path without one."""
    geoid = specification.coordinates.geoid
    if job is not None and geoid is not None:
        if geoid.file is None:
            yield geoid.name, Grid(geoid.name, None, "job.toml names no file of it")
        else:
            yield _take_up(geoid.name, job / geoid.file, f"{geoid.file} of job.toml is not there")
    for path in named:
        if not os.path.isfile(path):
            raise UsageError("there is no such geoid grid", where=str(path))
        yield _take_up(path.name, path, "")
    if job is not None:
        with Book.open(job) as book:
            yield from _list_registered(book)


def _take_up(name: str, path: Path, absent: str) -> tuple[str, Grid]:
    if not os.path.isfile(path):
        return str(path), Grid(name, None, absent)
    try:
        return read_fixity(path).sha256, Grid(name, path.absolute())
    except SwathbookError as error:
        return str(path), Grid(name, None, str(error))


def _list_registered(book: Book) -> Iterator[tuple[str, Grid]]:
    for file in book.files_last_seen():
        if file.role == Role.GEOID:
            path = find_grid_file(book, file.sha256, file.path)
            reason = "" if path else f"{file.path} is not there, or was changed since"
            yield file.sha256, Grid(Path(file.path).name, path, reason)
