"""Beginning a job: its folder, its specification, its book.

Invariants:

- A folder that holds a book or a `job.toml` already is refused, and nothing in it is touched.
- No job lies inside another: what is typed in its folder would be entered in the wrong book.
- A job is there whole or not at all.
- What is taken over from another job is marked as carried, and proves nothing until confirmed.
"""

from __future__ import annotations

import os
from contextlib import suppress
from pathlib import Path
from typing import Any

from ledger.canonical import compute_digest
from ledger.dataclass import dataclass
from ledger.errors import NoBookError, UsageError
from ledger.jobfolder import SPECIFICATION_NAME, find_places, list_jobs
from ledger.loading import load_part
from ledger.model.entry import Draft, Kind
from ledger.model.filename import escape_for_screen
from ledger.model.typed import quote_path
from ledger.office import note_job
from ledger.settings.typedtext import require_no_secret
from ledger.start.beginning import Beginning
from ledger.start.folder import Building
from ledger.start.template import write_template
from ledger.store.reading import BOOK_NAME, find_book
from ledger.store.writing import Addition


@dataclass(frozen=True)
class StartResult:
    """A job that has begun.

    Args:
        folder: the job folder.
        specification: its `job.toml`.
        typed: the folder as it was named; `.` for the one that the person stands in.
        carried: keys of the specification taken over from another job.
        rigs: ids of the rigs taken over.
        mapped: record fields of the settings map taken over.
        flight: record fields that the first flight is asked with, taken over.
    """

    folder: Path
    specification: Path
    typed: str
    carried: tuple[str, ...] = ()
    rigs: tuple[str, ...] = ()
    mapped: tuple[str, ...] = ()
    flight: tuple[str, ...] = ()


def start_job(
    folder: Path,
    reference: str = "",
    title: str = "",
    like: Path | None = None,
    by: str = "technician",
) -> StartResult:
    """Make a job folder with its specification, its folders and its book.

    Args:
        folder: the job folder; made where it is absent, may hold other files.
        reference: the client's number or name; blank when empty.
        title: what the job is; blank when empty.
        like: a job to take specification and rigs over from.
        by: function of the person.

    Raises:
        UsageError: the folder is a job already, lies in one or holds one, or cannot be used; or a
            text holds a password.
        SpecificationError: the specification of the other job cannot be used.
        BookError: a book cannot be made, or that of the other job cannot be used.
    """
    typed = os.path.normpath(folder)
    # Written out in full, or `..` would make every folder on the way one of those above.
    folder = Path(os.path.abspath(folder))  # noqa: PTH100 - links stay links
    _require_free(folder)
    require_outside_jobs(folder)
    reference, title = reference.strip(), title.strip()
    _require_text(reference, title)
    require_no_secret(reference, "--reference")
    require_no_secret(title, "--title")
    beginning = _begin(folder, reference, title, like)
    content = beginning.text.encode("utf-8")
    job: dict[str, Any] = {"reference": reference, "title": title, "like": beginning.like}
    if beginning.flight:
        job["flight"] = beginning.flight
    additions = _draft(content, job, beginning, by)
    rigs = _build(folder, content, additions)
    if like is not None:
        note_job(like.parent if like.is_file() else like)
    note_job(folder)
    said = (str(row["field"]) for row in beginning.settings_map if row["keys"])
    mapped = tuple(dict.fromkeys(said))
    return StartResult(
        folder,
        folder / SPECIFICATION_NAME,
        typed,
        carried=beginning.carried,
        rigs=rigs,
        mapped=mapped,
        flight=tuple(beginning.flight),
    )


def _begin(folder: Path, reference: str, title: str, like: Path | None) -> Beginning:
    if like is None:
        return Beginning(write_template(reference, title))
    # Only another job's specification has to be understood: a new one is written from a template.
    begun: Beginning = load_part("ledger.start.carrying", "carry_job")(
        like, folder, reference, title
    )
    return begun


def _require_text(*texts: str) -> None:
    for text in texts:
        try:
            text.encode("utf-8")
        except UnicodeEncodeError:
            raise UsageError(
                "reference and title have to be text", found=escape_for_screen(text)
            ) from None


def _require_free(folder: Path) -> None:
    # These functions of os.path say no where the system refuses; those of Path raise.
    if os.path.exists(folder) and not os.path.isdir(folder):
        raise UsageError("a job needs a folder, and this is a file", where=str(folder))
    for name in (BOOK_NAME, SPECIFICATION_NAME):
        if os.path.lexists(folder / name):
            raise UsageError(
                f"there is a {name} in this folder already, so nothing was touched",
                where=str(folder),
                remedy="name a new folder, or go on with the job that is there",
            )


def require_outside_jobs(folder: Path) -> None:
    """Refuse a folder that lies in a job, or that holds one.

    Raises:
        UsageError: it does.
    """
    with suppress(NoBookError):
        around = find_book(folder.parent).parent
        beside = quote_path(str(around.parent / folder.name))
        raise UsageError(
            "a job inside another job is a slip, so nothing was made",
            found=f"a book in {around}",
            where=str(folder),
            remedy=f"start it beside that one: swathbook start {beside}",
        )
    inside = list_jobs(folder)
    if inside:
        raise UsageError(
            "this folder holds a job already, and a job inside another job is a slip",
            found=f"a book in {inside[0].name}",
            where=str(folder),
            remedy="name a new folder in it",
        )


def _draft(content: bytes, job: dict[str, Any], beginning: Beginning, by: str) -> list[Addition]:
    """Return the first entries of the book."""
    specification = {"sha256": compute_digest(content), "bytes": len(content)}
    return [
        Addition(Draft(Kind.JOB, job, by=by)),
        Addition(Draft(Kind.SPECIFICATION, specification, by=by), (content,)),
        *(Addition(Draft(Kind.RIG, values, by=by), id_prefix="G") for values in beginning.rigs),
        *_draft_map(beginning, by),
    ]


def _draft_map(beginning: Beginning, by: str) -> tuple[Addition, ...]:
    rows = list(beginning.settings_map)
    return (Addition(Draft(Kind.SETTINGS_MAP, {"rows": rows}, by=by)),) if rows else ()


def _build(folder: Path, content: bytes, additions: list[Addition]) -> tuple[str, ...]:
    """Make everything, or nothing; return the ids of the rigs."""
    try:
        with Building() as building:
            building.make_folder(folder)
            building.make_file(folder / SPECIFICATION_NAME, content)
            places = find_places(folder)
            for place in (places.raw, places.out):
                building.make_folder(place)
            with building.make_book(folder) as writer:
                entries = writer.append_all(additions)
    except OSError as error:
        raise UsageError(
            "the job folder cannot be made",
            found=error.strerror or str(error),
            where=str(error.filename or folder),
        ) from error
    return tuple(entry.values["id"] for entry in entries if entry.kind == Kind.RIG)
