"""Choosing the outputs of one run: what is told apart is asked about, never taken in bulk."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from ledger.errors import Fault, UsageError
from ledger.model.ask import Ask, Progress, Question
from ledger.model.phrases import count_things
from ledger.record.candidates import Candidate, find_unexplained, read_named
from ledger.record.grouping import Group, Traits, group_found, sort_named
from ledger.record.taken import require_not_taken
from ledger.store.reading import Book

_KEY = "outputs"


@dataclass(frozen=True)
class Chosen:
    """The outputs of a run.

    Args:
        files: what it made.
        left_out: what stays without a run, as the book writes paths.
    """

    files: tuple[Candidate, ...] = ()
    left_out: tuple[str, ...] = ()


def choose_found(book: Book, folder: Path, ask: Ask, progress: Progress) -> Chosen:
    """Return the outputs of a run among the files of a folder that no run explains.

    Raises:
        UsageError: there are several groups and nobody to ask, or the person wants none of them.
        FaultsError: some files cannot be read.
    """
    groups = group_found(find_unexplained(book, folder, progress), folder)
    if not groups:
        return Chosen()
    if ask.interactive:
        return _ask_groups(groups, ask)
    if len(groups) > 1:
        raise _list_groups(groups)
    return Chosen(groups[0].files)


def choose_named(
    book: Book, paths: Sequence[Path], ask: Ask, progress: Progress, *, together: bool
) -> Chosen:
    """Return the outputs of a run among the files that a person named.

    A point file unlike most of them is asked about; where nobody is there it stays out.

    Args:
        book: an open book.
        paths: files and folders.
        ask: the person.
        progress: is told what is read.
        together: the person says that all of them belong to the run, alike or not.

    Raises:
        UsageError: no file is there, or no traits are usual and nobody is there to ask.
        UnreadableFileError: a path does not exist.
        FaultsError: some files cannot be read.
    """
    files = read_named(book, paths, progress)
    if not files:
        raise UsageError(
            "there is no file to record",
            where=", ".join(str(path) for path in paths),
            remedy="name the outputs of the run or their folder",
        )
    require_not_taken(book, files, ask)
    if together:
        return Chosen(files)
    found = sort_named(files)
    if found.usual is None and found.odd:
        if not ask.interactive:
            raise _list_groups(found.odd)
        chosen = _ask_groups(found.odd, ask)
        return _take((*found.alike, *chosen.files), chosen.left_out)
    taken, left = list(found.alike), []
    for group in found.odd:
        if found.usual is not None and ask.interactive and _ask_odd(group, found.usual, ask):
            taken += group.files
        else:
            left += [each.stored for each in group.files]
    return _take(taken, left)


def _take(files: Sequence[Candidate], left_out: Sequence[str]) -> Chosen:
    return Chosen(tuple(sorted(files, key=lambda each: each.stored)), tuple(sorted(left_out)))


def _ask_groups(groups: Sequence[Group], ask: Ask) -> Chosen:
    """Ask which groups the run made; a single one is confirmed with Enter."""
    if len(groups) == 1:
        text = f"Did one run make {groups[0].describe()}"
        if ask.confirm(Question(_KEY, text, default="yes")):
            return Chosen(groups[0].files)
        picked: set[int] = set()
    else:
        choices = tuple(f"{place}. {each.describe()}" for place, each in enumerate(groups, start=1))
        question = Question(_KEY, "Which of these did this run make", choices=choices)
        ticked = set(ask.choose_many(question))
        picked = {place for place, choice in enumerate(choices) if choice in ticked}
    if not picked:
        raise UsageError(
            "nothing was chosen, so nothing is recorded",
            remedy="name the outputs of the run: swathbook record PATH…",
        )
    taken = [each for place in picked for each in groups[place].files]
    left = [group for place, group in enumerate(groups) if place not in picked]
    return _take(taken, [each.stored for group in left for each in group.files])


def _ask_odd(group: Group, usual: Traits, ask: Ask) -> bool:
    told = count_things(len(group.files), "file")
    difference = group.traits.differ(usual) if group.traits else ""
    text = (
        f"{told} ({group.list_names()}) unlike the others: {difference}. Did this run make it too"
    )
    return ask.confirm(Question(_KEY, text, default="no"))


def _list_groups(groups: Sequence[Group]) -> UsageError:
    """Return an error with one line for each group."""
    head = Fault(
        "the files look like those of several runs, and there is no terminal to ask at",
        found=count_things(len(groups), "group"),
        remedy="name the outputs of one run: swathbook record PATH…",
    )
    lines = (Fault(f"group {place}: {each.describe()}") for place, each in enumerate(groups, 1))
    return UsageError.from_faults((head, *lines))
