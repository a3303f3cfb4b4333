"""The job folder: where things lie in it, read leniently.

Nothing here needs a valid `job.toml`: a person who mistyped it must still get answers.
"""

from __future__ import annotations

import os
import tomllib
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from ledger.dataclass import dataclass
from ledger.errors import FileError
from ledger.shortfile import read_short_file
from ledger.store.reading import BOOK_NAME, find_book

SPECIFICATION_NAME = "job.toml"
SCRATCH_NAME = ".swathbook"

# As the specification allows them; a number beyond is a slip that must not clear a card.
_COPIES = range(1, 10)
_COPIES_ASKED = 2
_GEOID = "coordinates.geoid"


@dataclass(frozen=True)
class Places:
    """Folders of a job.

    Args:
        raw: raw data.
        out: outputs of the processing program.
        copies: verified copies that clear the card.
    """

    raw: Path
    out: Path
    copies: int


def find_job(start: Path) -> Path:
    """Return the job folder: this one, or the nearest above it that holds a book.

    Raises:
        NoBookError: there is none.
    """
    # Written out in full, or `..` would keep paths from being found below the folder.
    return find_book(Path(os.path.abspath(start))).parent  # noqa: PTH100 - links stay links


def list_jobs(folder: Path) -> list[Path]:
    """Return the folders directly in a folder that hold a book, by name; none where it is away."""
    try:
        inside = sorted(folder.iterdir())
    except OSError:
        return []
    return [path for path in inside if os.path.isfile(path / BOOK_NAME)]


def find_places(job: Path) -> Places:
    """Return the folders that `job.toml` names, or the usual ones where it does not."""
    folders = _read_section(job, "folders") or {}
    raw, out, copies = folders.get("raw"), folders.get("out"), folders.get("copies")
    return Places(
        raw=job / (raw if isinstance(raw, str) else "raw"),
        out=job / (out if isinstance(out, str) else "out"),
        copies=copies if type(copies) is int and copies in _COPIES else _COPIES_ASKED,
    )


def read_names(job: Path) -> dict[str, str] | None:
    """Return what `job.toml` calls the job (`reference`, `title`, `site`, `client`).

    Returns:
        The texts that are there; None where the section cannot be read.
    """
    section = _read_section(job, "job")
    if section is None:
        return None
    return {name: text.strip() for name, text in section.items() if isinstance(text, str)}


@dataclass(frozen=True)
class GeoidAsked:
    """The geoid that `job.toml` asks for, where it names a grid file.

    Args:
        name: its name; empty where it is not said.
        version: its version; empty where it is not said.
        file: its grid file, as written: from the job folder, or absolute.
        confirmed: it was not taken over from another job unconfirmed.
    """

    name: str
    version: str
    file: str
    confirmed: bool


def read_geoid(job: Path) -> GeoidAsked | None:
    """Return the geoid grid that `job.toml` asks for; None where it names none."""
    values = _read_values(job)
    coordinates = values.get("coordinates")
    geoid = coordinates.get("geoid") if isinstance(coordinates, dict) else None
    if not isinstance(geoid, dict) or not isinstance(geoid.get("file"), str):
        return None
    texts = {name: text for name, text in geoid.items() if isinstance(text, str)}
    carried = values.get("carried", [])
    open_keys = carried if isinstance(carried, list) else [carried]
    confirmed = not any(str(key).startswith(_GEOID) or key == "coordinates" for key in open_keys)
    return GeoidAsked(texts.get("name", ""), texts.get("version", ""), texts["file"], confirmed)


def read_boundary_name(job: Path) -> str:
    """Return the file that `job.toml` names as boundary; empty where none of that name is there."""
    name = (_read_section(job, "delivery") or {}).get("boundary")
    return name if isinstance(name, str) and name and (job / name).is_file() else ""


def _read_section(job: Path, name: str) -> dict[str, Any] | None:
    """Return a section of `job.toml`; None where it is not there or cannot be read."""
    section = _read_values(job).get(name)
    return section if isinstance(section, dict) else None


def is_unread(job: Path) -> bool:
    """Say whether `job.toml` is there and cannot be read: then nobody knows what it asks for."""
    return _try_values(job) is None and os.path.lexists(job / SPECIFICATION_NAME)


def _read_values(job: Path) -> dict[str, Any]:
    """Return all of `job.toml`; nothing where it cannot be read."""
    return _try_values(job) or {}


def _try_values(job: Path) -> dict[str, Any] | None:
    try:
        bytes_ = read_short_file(job / SPECIFICATION_NAME, SPECIFICATION_NAME)
        return tomllib.loads(bytes_.decode("utf-8-sig"))
    except (FileError, ValueError, RecursionError):  # unread, no UTF-8, no TOML, nested too deeply
        return None


def leave_out_book(paths: Iterable[Path], job: Path) -> list[Path]:
    """Return the paths without the book itself and what lies in its scratch folder.

    Whoever names the whole job folder does not mean them, and they change with every command.
    """
    scratch, book = job / SCRATCH_NAME, str(job / BOOK_NAME)
    return [
        path
        for path in paths
        if not path.is_relative_to(scratch) and not str(path).startswith(book)
    ]


def make_scratch(job: Path) -> Path:
    """Return the folder of things that may be lost, making it where needed."""
    folder = job / SCRATCH_NAME
    folder.mkdir(exist_ok=True)
    return folder
