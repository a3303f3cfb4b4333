"""Handing a delivery over: a transmittal, and the papers that go with it.

Invariants:

- Every file is read again first; what is handed over is what was audited, byte for byte.
- A folder that its audit does not allow goes out only with a reason, which stands on the sheet.
- Papers are written beside the delivery, never into it, and only after the entry is on the medium.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from ledger.auditentry import read_figures
from ledger.copies import find_copies
from ledger.deliverables import draft_deliverables
from ledger.errors import BrokenBookError, SwathbookError, UnwritableFileError
from ledger.handover.facts import list_facts, list_processes
from ledger.handover.manifest import NAME as MANIFEST_NAME
from ledger.handover.manifest import write_manifest
from ledger.handover.package import HandoverResult, Listed, Package, Wishes
from ledger.handover.transmittals import (
    draft_transmittal,
    find_same,
    read_transmittals,
    settle,
)
from ledger.handover.validity import Judged, drop_needless, judge_folder, list_obstacles
from ledger.jobfolder import read_names
from ledger.loading import load_part
from ledger.model.ask import NoProgress, Progress
from ledger.model.entry import Entry
from ledger.model.specification import Specification
from ledger.outgoing import require_outside_raw
from ledger.specfile.reading import parse_specification
from ledger.store.reading import Book
from ledger.store.writing import BookWriter
from ledger.trace import trace
from ledger.wholefile import write_whole

if TYPE_CHECKING:
    from ledger.model.raster import Raster

FOLDER = "handover"

MakePapers = Callable[[Package], Mapping[str, bytes]]
"""Makes the papers of a package: content by name of the file."""

_SILENT = NoProgress()


def hand_over(
    job: Path,
    folder: Path,
    wishes: Wishes,
    make_papers: MakePapers,
    progress: Progress = _SILENT,
) -> HandoverResult:
    """Enter that a folder was handed over, and write its papers; or say why not.

    Args:
        job: the job folder, or its book.
        folder: the folder that goes out.
        wishes: to whom, for what, and as which revision.
        make_papers: makes what is printed.
        progress: told the bytes read.

    Raises:
        UsageError: something that has to be said is blank or holds a password, the folder was
            never audited, its papers would lie among raw data, or a bag cannot hold a name.
        BookError: the book is broken or held.
        UnwritableFileError: the papers cannot be written; the entry stands, and the same command
            with its revision writes them once they can.
    """
    with Book.open(job) as book:
        _require_unbroken(book, progress)
        judged = judge_folder(book, folder, progress)
        before = read_transmittals(book)
        settled = drop_needless(judged, settle(wishes, judged.audit.folder, before))
        known = find_same(before, judged, settled)
    refused = list_obstacles(judged, settled)
    if refused and known is None:
        return HandoverResult(judged.audit.folder, refused)
    if wishes.bag:
        load_part("ledger.handover.bag", "require_names")(judged.folder.files.values())
    with BookWriter.open(job) as writer:
        papers = find_papers(settled, judged, writer.folder)
        require_outside_raw(papers, writer.folder)
        drafts = [*draft_deliverables(writer, wishes.by), draft_transmittal(judged, settled)]
        entry = known or writer.append_all(drafts)[-1]
        package = _make_package(writer, judged, settled, entry)
    names = _list_names(judged)
    content = {MANIFEST_NAME: write_manifest(names), **make_papers(package)}
    bag: Path | None = None
    with _telling_how_it_goes_on(settled.revision):
        for name, text in content.items():
            write_whole(papers / name, text)
        if wishes.bag:
            make_bag = load_part("ledger.handover.bag", "make_bag")
            bag = make_bag(package, judged.folder.place, names, papers, progress)
    return HandoverResult(
        folder=judged.audit.folder,
        package=package,
        papers=papers,
        written=tuple(content),
        bag=bag,
        again=known is not None,
    )


@contextmanager
def _telling_how_it_goes_on(revision: str) -> Iterator[None]:
    """Say of papers that cannot be written how they come to be, now that their entry stands."""
    again = f"once that is mended, the same command with --revision {revision} writes the papers"
    try:
        yield
    except UnwritableFileError as error:
        faults = tuple(replace(fault, remedy=again) for fault in error.faults)
        raise UnwritableFileError.from_faults(faults) from error


def _require_unbroken(book: Book, progress: Progress) -> None:
    state = book.check(progress)
    if not state.unbroken:
        raise BrokenBookError(
            "nothing is handed over from a broken book",
            found=state.sentence,
            where=str(book.path),
            remedy="swathbook recheck --book-only",
        )


def find_papers(wishes: Wishes, judged: Judged, job: Path) -> Path:
    """Return the folder of the papers: in the job, else beside a delivery that lies outside."""
    place = judged.folder.place
    inside = os.path.commonpath([job, place]) == str(job) if _on_one_drive(job, place) else False
    return (job if inside else place.parent) / FOLDER / wishes.revision


def _on_one_drive(one: Path, other: Path) -> bool:
    return one.anchor == other.anchor and one.is_absolute() == other.is_absolute()


def _make_package(book: Book, judged: Judged, wishes: Wishes, entry: Entry) -> Package:
    names = read_names(book.folder) or {}
    audit = judged.audit
    copies = find_copies(book)
    return Package(
        id=str(entry.values["id"]),
        entry=entry.seq,
        time=entry.time,
        root=entry.root,
        wishes=wishes,
        job=(names.get("reference", ""), names.get("title", "")),
        folder=audit.folder,
        audit=audit,
        verdict=judged.verdict,
        accepted=tuple(
            (each, judged.acceptances[each.id])
            for each in audit.findings
            if each.id in judged.acceptances
        ),
        facts=list_facts(list_processes(book, judged.folder), _read_wishes(book, audit.entry)),
        copies=copies.tally if copies.files else "",
        files=tuple(
            Listed(file.name, file.sha256, file.bytes)
            for file in sorted(judged.folder.files.values(), key=lambda file: file.name)
        ),
        points=audit.entry.values.get("points"),
        figures=read_figures(audit.entry),
        maps=_read_maps(book, audit.entry),
        chain=trace(book.path, judged.folder.id).chain,
        lapsed=_read_lapsed(entry),
    )


def _read_lapsed(entry: Entry) -> tuple[str, ...]:
    """Return what the transmittal says of its audit: as it went out, not as the book is now."""
    told = entry.values.get("lapsed")
    return tuple(str(clause) for clause in told) if isinstance(told, list) else ()


def _read_maps(book: Book, audit: Entry) -> tuple[Raster, ...]:
    if not audit.values.get("rasters"):
        return ()
    maps: tuple[Raster, ...] = load_part("ledger.auditmaps", "read_maps")(book, audit)
    return maps


def _read_wishes(book: Book, audit: Entry) -> Specification | None:
    """Return the specification that an audit was held against; None where it cannot be read."""
    try:
        return parse_specification(book.blob(str(audit.values["specification"])))
    except SwathbookError:
        return None


def _list_names(judged: Judged) -> list[Listed]:
    """Return the files under the names that they have on this computer."""
    place = judged.folder.place
    return [
        Listed(os.path.relpath(file.place, place).replace(os.sep, "/"), file.sha256, file.bytes)
        for _, file in sorted(judged.folder.files.items())
    ]
