"""Choosing the outputs of a run or step: what differs is asked about, never taken in bulk."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import field, replace
from pathlib import Path

from ledger.dataclass import dataclass
from ledger.errors import Fault, UsageError
from ledger.model.artefact import FileRecord
from ledger.model.ask import Ask, Progress, Question
from ledger.model.phrases import agree, count_things
from ledger.model.traits import Traits
from ledger.model.typed import quote_path
from ledger.record.candidates import Candidate, find_unexplained, read_named
from ledger.record.grouping import Group, group_found, sort_named
from ledger.record.taken import require_not_taken
from ledger.record.verbs import RUN, Verb
from ledger.store.reading import Book

_KEY = "outputs"
_MOST_NAMED = 4


@dataclass(frozen=True)
class Chosen:
    """The outputs of a run or step.

    Args:
        files: what it made.
        left_out: what stays without a run, as the book writes paths.
        known: what other runs made, seen here at a new place or with a new time.
        unread: why files beside them cannot be read, by their paths as the book writes them.
        is_sourced: whether a person said in the same answer what they were made from; None where
            that was not asked.
    """

    files: tuple[Candidate, ...] = ()
    left_out: tuple[str, ...] = ()
    known: tuple[FileRecord, ...] = ()
    unread: Mapping[str, str] = field(default_factory=dict)
    is_sourced: bool | None = None


def choose_found(  # noqa: PLR0913 - what decides which files are meant
    book: Book, folder: Path, ask: Ask, progress: Progress, verb: Verb = RUN, *, source: str = ""
) -> Chosen:
    """Return the outputs of a run or step among the files of a folder that no run explains.

    Args:
        book: an open book.
        folder: the folder of outputs.
        ask: the person.
        progress: is told what is read.
        verb: what is recorded.
        source: the only thing that they can have been made from, `flight F1`: asked about in the
            same question; empty to ask for the outputs alone.

    Raises:
        UsageError: there are several groups and nobody to ask, or the person wants none of them.
        FaultsError: no file can be read, or some are still being written.
    """
    found = find_unexplained(book, folder, progress)
    groups = group_found(found.fresh, folder)
    if not groups:
        return Chosen(known=found.known)
    if ask.interactive:
        chosen = _ask_groups(groups, ask, verb, source)
        return replace(chosen, known=found.known, unread=found.unread)
    if len(groups) > 1:
        raise _list_groups(groups, verb)
    return Chosen(groups[0].files, known=found.known, unread=found.unread)


def choose_named(  # noqa: PLR0913 - what decides which files are meant
    book: Book,
    paths: Sequence[Path],
    ask: Ask,
    progress: Progress,
    verb: Verb = RUN,
    *,
    together: bool,
) -> Chosen:
    """Return the outputs of a run or step among the files that a person named.

    A point file unlike most of them is asked about; where nobody is there it stays out.

    Args:
        book: an open book.
        paths: files and folders.
        ask: the person.
        progress: is told what is read.
        verb: what is recorded.
        together: the person says that all of them belong together, alike or not.

    Raises:
        UsageError: no file is there, or no traits are usual and nobody is there to ask.
        UnreadableFileError: a path does not exist.
        FaultsError: a file that was named itself, or none at all, can be read.
    """
    read = read_named(book, paths, progress)
    files = read.fresh
    if not files:
        raise UsageError(
            "there is no file to record",
            where=", ".join(str(path) for path in paths),
            remedy=f"name the outputs of the {verb.kind} or their folder",
        )
    require_not_taken(book, files, ask, verb)
    chosen = Chosen(files) if together else _choose_alike(files, ask, verb)
    return replace(chosen, unread=read.unread)


def _choose_alike(files: Sequence[Candidate], ask: Ask, verb: Verb) -> Chosen:
    found = sort_named(files)
    if found.usual is None and found.odd:
        if not ask.interactive:
            raise _list_groups(found.odd, verb)
        chosen = _ask_groups(found.odd, ask, verb)
        return _take((*found.alike, *chosen.files), chosen.left_out)
    taken, left = list(found.alike), []
    for group in found.odd:
        if found.usual is not None and ask.interactive and _ask_odd(group, found.usual, ask, verb):
            taken += group.files
        else:
            left += [each.stored for each in group.files]
    return _take(taken, left)


def _take(files: Sequence[Candidate], left_out: Sequence[str]) -> Chosen:
    return Chosen(tuple(sorted(files, key=lambda each: each.stored)), tuple(sorted(left_out)))


def _ask_groups(groups: Sequence[Group], ask: Ask, verb: Verb, source: str = "") -> Chosen:
    """Ask which groups one run or step made; a single one is confirmed with Enter."""
    if len(groups) == 1:
        files, text = groups[0].files, f"Did one {verb.kind} make {groups[0].describe()}"
        if source and ask.confirm(Question(_KEY, f"{text}, from {source}", default="yes")):
            return Chosen(files, is_sourced=True)
        text = f"{text}, from something else" if source else text
        if ask.confirm(Question(_KEY, text, default="no" if source else "yes")):
            return Chosen(files, is_sourced=False if source else None)
        picked: set[int] = set()
    else:
        picked = _tick_groups(groups, ask, verb)
    if not picked:
        raise UsageError(
            "nothing was chosen, so nothing is recorded",
            remedy=f"name the outputs of the {verb.kind}: {verb.command} PATH…",
        )
    taken = [each for place in picked for each in groups[place].files]
    left = [group for place, group in enumerate(groups) if place not in picked]
    return _take(taken, [each.stored for group in left for each in group.files])


def _tick_groups(groups: Sequence[Group], ask: Ask, verb: Verb) -> set[int]:
    """Return the places of the ticked groups; who forgot the tick is asked again."""
    choices = tuple(f"{place}. {each.describe()}" for place, each in enumerate(groups, start=1))
    question = Question(_KEY, f"Which of these did this {verb.kind} make", choices=choices)
    again = Question(_KEY, "Nothing is ticked (the space bar ticks). Choose again", default="yes")
    while True:
        ticked = set(ask.choose_many(question))
        if ticked or not ask.confirm(again):
            return {place for place, choice in enumerate(choices) if choice in ticked}


def _ask_odd(group: Group, usual: Traits, ask: Ask, verb: Verb) -> bool:
    told = count_things(len(group.files), "file")
    difference = group.traits.differ(usual) if group.traits else ""
    text = (
        f"{told} ({group.list_names()}) unlike the others: {difference}. "
        f"Did this {verb.kind} make {agree(len(group.files), 'it', 'them')} too"
    )
    return ask.confirm(Question(_KEY, text, default="no"))


def _list_groups(groups: Sequence[Group], verb: Verb) -> UsageError:
    """Return an error with one line for each group, and what to type for one and for all."""
    places = _name_places(groups)
    head = Fault(
        f"the files look like those of several {verb.kind}s, and there is no terminal to ask at",
        found=count_things(len(groups), "group"),
        remedy=f"name the outputs of one {verb.kind}: {verb.command} {places[0]}; where one "
        f"{verb.kind} made them all: {verb.command} {' '.join(dict.fromkeys(places))} --together",
    )
    lines = (Fault(f"group {place}: {each.describe()}") for place, each in enumerate(groups, 1))
    return UsageError.from_faults((head, *lines))


def _name_places(groups: Sequence[Group]) -> tuple[str, ...]:
    """Return for each group the folder that holds it and no other; else a place to fill in."""
    folders = [{each.stored.rpartition("/")[0] for each in group.files} for group in groups]
    alone = len(set().union(*folders)) == len(groups) and all(len(each) == 1 for each in folders)
    if not alone or len(groups) > _MOST_NAMED or "" in set().union(*folders):
        return ("PATH…",)
    return tuple(quote_path(each.pop()) for each in folders)
