"""The field side: raw files and their copies, rigs, flights."""

from __future__ import annotations

import os
from collections.abc import Mapping
from pathlib import Path

from ledger.copies import Copies
from ledger.errors import FileError
from ledger.jobfolder import find_places, leave_out_book
from ledger.model.artefact import FileRecord
from ledger.model.filename import make_book_path
from ledger.model.ids import find_next_id
from ledger.model.nextstep import NOTHING, NextStep
from ledger.model.phrases import agree, count_things, describe_bytes
from ledger.model.process import Card
from ledger.model.typed import quote_path
from ledger.status.lines import StatusLine
from ledger.store.reading import Book
from ledger.walk import list_files

_PATHS_TYPED = 3


def describe_raw(book: Book, copies: Copies, seen: Mapping[str, FileRecord]) -> StatusLine:
    """Return what is registered, and what waits in the folder of raw files."""
    folder = find_places(book.folder).raw
    name = make_book_path(folder, book.folder)[0]
    try:
        fresh = _find_fresh(book, folder, seen)
    except FileError as error:
        return StatusLine(
            "raw data", f"{name} cannot be looked through: {error.faults[0].sentence()}."
        )
    told = "No raw file is registered."
    if copies.files:
        size = f"{count_things(len(copies.files), 'file')}, {describe_bytes(copies.bytes)}"
        told = f"{size}, registered."
    if fresh:
        verb = agree(len(fresh), "is", "are")
        waiting = f"{count_things(len(fresh), 'file')} in {name} {verb} not registered."
        return StatusLine(
            "raw data",
            f"{waiting} {told}" if copies.files else waiting,
            NextStep(
                f"swathbook register {_name_fresh(book, folder, fresh, seen)}"
                f" --flight {_find_naming(book, fresh) or _find_flight(book)}",
                "or the flight that they belong to" if copies.files else "",
            ),
        )
    if not copies.off_card:
        command = f"swathbook register {quote_path(name)} --flight {_find_flight(book)}"
        when = f"once what came off card, base and aircraft lies in {name}"
        return StatusLine("raw data", told, NextStep(command, when))
    return StatusLine("raw data", told)


def describe_card(copies: Copies) -> StatusLine | None:
    """Return whether the card may be cleared, and where its files lie; None before any is known."""
    if not copies.off_card and not copies.left_out:
        return None
    return StatusLine("card", f"{copies.answer} {copies.sightings}".rstrip())


def _find_fresh(book: Book, folder: Path, seen: Mapping[str, FileRecord]) -> list[Path]:
    """Return the files in the folder of raw files that the book never saw under their path.

    What is no regular file cannot be registered, whatever is typed; a register names it.
    """
    if not os.path.isdir(folder):
        return []
    found = leave_out_book(list_files([folder]), book.folder)
    unseen = (path for path in found if make_book_path(path, book.folder)[0] not in seen)
    return [path for path in unseen if os.path.isfile(path)]


def _name_fresh(book: Book, folder: Path, fresh: list[Path], seen: Mapping[str, FileRecord]) -> str:
    """Return the fewest paths that hold all that is fresh and nothing that is registered."""
    known = {book.folder / name for name in seen}
    holding = {above for path in known for above in path.parents}
    if folder not in holding:
        return quote_path(make_book_path(folder, book.folder)[0])
    chosen: dict[Path, None] = {}
    for path in fresh:
        whole = path
        while whole.parent != folder and whole.parent not in holding:
            whole = whole.parent
        chosen[whole] = None
    if len(chosen) > _PATHS_TYPED:
        return "PATH…"
    return " ".join(quote_path(make_book_path(path, book.folder)[0]) for path in chosen)


def _find_naming(book: Book, fresh: list[Path]) -> str:
    """Return the flight whose card names one of these files, such as a photo; empty for none."""
    names = {make_book_path(path, book.folder)[0] for path in fresh}
    naming = (
        card.id
        for card in book.cards("flight")
        if any(known.where in names for known in card.values.values())
    )
    return next(naming, "")


def _find_flight(book: Book) -> str:
    """Return the first flight without raw files, or the next free id."""
    known = tuple(card.id for card in book.cards("flight"))
    empty = (name for name in known if not book.files_of_flight(name))
    return next(empty, find_next_id("F", known))


def describe_rigs(book: Book, *, can_wait: bool) -> StatusLine | None:
    """Return the rigs that are missing, or taken over and not confirmed; None for neither.

    Args:
        book: an open book.
        can_wait: the work is past the field.
    """
    rigs = book.cards("rig")
    if not rigs:
        if not book.cards("flight"):
            return None
        step = NextStep("swathbook record rig", "scanner, bracket and aircraft, lever arms")
        return StatusLine("rig", "No rig is recorded.", step, can_wait)
    carried = [card.id for card in rigs if _is_carried(card)]
    if not carried:
        return None
    return StatusLine(
        "rig",
        f"Taken over from another job and confirmed by nobody: {', '.join(carried)}.",
        NextStep(f"swathbook record rig {carried[0]}"),
        can_wait,
    )


def _is_carried(card: Card) -> bool:
    return bool(card.values) and not any(known.confirmed for known in card.values.values())


def describe_flights(book: Book, *, can_wait: bool) -> StatusLine | None:
    """Return the flights, and those without a field card; None where there is none."""
    flights = book.cards("flight")
    if not flights:
        return None
    count = count_things(len(flights), "flight")
    empty = [card.id for card in flights if not card.values]
    if not empty:
        return StatusLine("flights", f"{count}.", NOTHING)
    return StatusLine(
        "flights",
        f"{count}; without a field card: {', '.join(empty)}.",
        NextStep(f"swathbook record flight {empty[0]}", "the field card, 30 seconds"),
        can_wait,
    )
