"""What the words after `trace` mean: a file, a digest, or an id of the book.

A word that could mean two things is an error that names both; `run:R1`, `entry:31`, `digest:…`,
`finding:…` and `./R1` each mean one.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path

from ledger.dataclass import dataclass
from ledger.errors import UsageError
from ledger.fixity import read_fixity
from ledger.loading import load_part
from ledger.model.address import is_address, read_address
from ledger.model.ask import Progress
from ledger.model.entry import Kind
from ledger.model.filename import make_book_path
from ledger.model.ids import KINDS, read_id
from ledger.model.phrases import count_things, join_choices
from ledger.store.reading import Book
from ledger.walk import read_dropped_path

RECORDED_PATH = "recorded path"

_KINDS = frozenset({*KINDS.values(), "entry", "digest", "finding"})
_CARDS = ("flight", "rig", "statement", "points")
_HEX = frozenset("0123456789abcdef")
_SHORTEST_DIGEST = 8
_WHOLE_DIGEST = 64
_FINDING_ID = 12
_LONGEST_NUMBER = 18
_SHORTEST_FINDING = 4
_SHOWN = 4
_HINT = "give a path, at least 8 digits of a SHA-256, or an id such as R1"


@dataclass(frozen=True)
class Target:
    """What is traced.

    Args:
        kind: `file`, `flight`, `rig`, `run`, `step`, `statement`, `points`, `audit`, `entry` or
            `finding`.
        id: `R1`, the number of an entry, the id of a finding, or the digest of a file.
        path: where the file was read, as the book would store it; else where the book saw it last;
            empty for none.
        known: whether the book has it; of a file this is settled later, by its bytes.
        by_path: the file is not there; this is what the book last saw under its path.
    """

    kind: str
    id: str
    path: str = ""
    known: bool = True
    by_path: bool = False


def find_target(book: Book, text: str, progress: Progress) -> Target:
    """Return what `text` means.

    Raises:
        UsageError: it means nothing, two things, or a folder.
        UnreadableFileError: it is a file that cannot be read.
    """
    if not text.strip():
        raise UsageError("nothing is named that could be traced", remedy=_HINT)
    if is_address(text.strip()):
        return _find_object(book, str(read_address(text.strip())))
    kind, colon, rest = text.strip().partition(":")
    if colon and kind.lower() in _KINDS:
        return _find_named(book, kind.lower(), rest.strip())
    place = _find_place(book, text)
    is_there = os.path.exists(place)
    recorded = None if is_there else _find_recorded(book, place, text)
    meanings = list(_list_meanings(book, text))
    known = [meant for meant in meanings if meant.known]
    _require_one_meaning(text, place, known, recorded, is_there=is_there)
    if os.path.isdir(place):
        raise _refuse_folder(book, text, place)
    if is_there:
        return Target("file", _hash(place, progress), path=_store(place, book))
    found = [*known, *([recorded] if recorded else []), *meanings]
    if not found:
        raise _refuse(book, text, place)
    return found[0]


def _find_object(book: Book, address: str) -> Target:
    """Return the file that an audit saw in a store; the store itself is not asked."""
    record = book.file_at(address)
    if record is None:
        raise UsageError(
            "no audit has seen this object, or none has read it whole",
            where=address,
            remedy="swathbook audit reads the folder that it lies in",
        )
    return Target("file", record.sha256, path=record.path, by_path=True)


def _hash(place: Path, progress: Progress) -> str:
    try:
        progress.start("reading the file", place.stat().st_size, "bytes")
        return read_fixity(place, progress).sha256
    finally:
        progress.finish()


def _list_meanings(book: Book, text: str) -> Iterator[Target]:
    """Yield what a word may mean beside a path, known to the book or not."""
    for meant in (_find_id(book, text), _find_digest(book, text)):
        if meant is not None:
            yield meant
    word = _read_digits(text)
    if _is_digest(word) and len(word) <= _FINDING_ID:
        for name in _find_findings(book, word):
            yield Target("finding", name)


def _require_one_meaning(
    text: str, place: Path, known: list[Target], recorded: Target | None, *, is_there: bool
) -> None:
    meanings = [(_describe(meant), _spell(meant)) for meant in known]
    if is_there:
        what = "folder" if os.path.isdir(place) else "file"
        meanings.insert(0, (f"a {what} here", f"./{text}"))
    elif recorded is not None:
        meanings.insert(0, ("a path in the book", f"./{text}"))
    if len(meanings) > 1:
        first, second = meanings[:2]
        raise UsageError(
            f"{text} is both {first[0]} and {second[0]}",
            remedy=f"write {first[1]} for the one, {second[1]} for the other",
        )


def _find_named(book: Book, kind: str, rest: str) -> Target:
    found: Target | None = None
    if kind == "digest":
        found = _find_digest(book, rest)
    elif kind == "finding":
        found = _find_finding(book, rest.lower())
    elif kind == "entry" and rest.isdecimal():
        known = len(rest) <= _LONGEST_NUMBER and book.entry(int(rest)) is not None
        found = Target("entry", rest, known=known)
    elif kind != "entry":
        found = _find_id(book, rest)
    if found is None or kind not in ("digest", found.kind):
        raise UsageError(f"{rest or 'an empty word'} is no {kind}", expected=_example(kind))
    return found


def _find_id(book: Book, text: str) -> Target | None:
    read = read_id(text)
    if read is None:
        return None
    name, kind = read.name, read.kind
    if kind in _CARDS:
        known = book.card(name) is not None
    elif kind == "audit":
        known = any(entry.values.get("id") == name for entry in book.entries(Kind.AUDIT))
    elif kind == "transmittal":
        known = any(entry.values["id"] == name for entry in book.entries(Kind.TRANSMITTAL))
    else:
        known = book.process(name) is not None
    return Target(kind, name, known=known)


def _find_digest(book: Book, text: str) -> Target | None:
    wanted = _read_digits(text)
    if not _is_digest(wanted):
        return None
    if len(wanted) == _WHOLE_DIGEST:
        return Target("file", wanted, known=bool(book.uses(wanted) or book.namers(wanted)))
    found = book.digests(wanted)
    if len(found) > 1:
        raise UsageError(
            f"{count_things(len(found), 'file')} of the book have a digest that begins with "
            f"{text.strip()}",
            found=", ".join(digest[: len(wanted) + _SHOWN] for digest in found[:_SHOWN])
            + (", …" if len(found) > _SHOWN else ""),
            remedy="give more digits",
        )
    return Target("file", found[0] if found else wanted, known=bool(found))


def _find_finding(book: Book, prefix: str) -> Target | None:
    if len(prefix) < _SHORTEST_FINDING:
        return None
    found = _find_findings(book, prefix)
    if len(found) > 1:
        raise UsageError(
            f"{count_things(len(found), 'finding')} have an id that begins with {prefix}",
            found=", ".join(found[:_SHOWN]) + (", …" if len(found) > _SHOWN else ""),
            remedy="give more of it",
        )
    return Target("finding", found[0] if found else prefix, known=bool(found))


def _find_findings(book: Book, prefix: str) -> tuple[str, ...]:
    found: tuple[str, ...] = load_part("ledger.trace.findings", "find_findings")(book, prefix)
    return found


def _read_digits(text: str) -> str:
    """Return digits as they are read aloud or copied from a screen, in one word."""
    return "".join(text.replace("…", " ").split()).lower()


def _is_digest(word: str) -> bool:
    """Say whether a word may be a digest, or the beginning of one."""
    return _SHORTEST_DIGEST <= len(word) <= _WHOLE_DIGEST and _HEX.issuperset(word)


def _find_place(book: Book, text: str) -> Path:
    """Return the path meant: from here, else from the job folder, as the book writes its paths."""
    path = read_dropped_path(text)
    if not os.path.lexists(path) and os.path.lexists(book.folder / path):
        return book.folder / path
    return path


def _find_recorded(book: Book, path: Path, text: str) -> Target | None:
    """Return the file that the book last saw under a path where there is none now."""
    # As typed too: a name that is gone may have had blanks at its ends, or quotes.
    names = (_store(path, book), path.as_posix(), _store(Path(text), book))
    for name in dict.fromkeys(names):
        record = book.file_at(name)
        if record is not None:
            return Target("file", record.sha256, path=record.path, by_path=True)
    return None


def _refuse_folder(book: Book, text: str, place: Path) -> UsageError:
    """Return the error about a folder, with what the book knows of it."""
    owners = {owner.id: None for owner in book.owners_below(_store(place, book)) if owner.id}
    known = f", or what its files belong to ({_list_some(list(owners))})" if owners else ""
    return UsageError(
        f"{text} is a folder, and a trace follows one file",
        remedy=f"name a file in it{known}; swathbook audit looks at a whole folder",
    )


def _refuse(book: Book, text: str, place: Path) -> UsageError:
    """Return the error about a word that means nothing, with what comes near."""
    remedy = _HINT
    word = text.strip()
    owners = {owner.id: None for owner in book.owners_below(_store(place, book)) if owner.id}
    named = book.paths_named(place.name)
    if word.isdecimal() and len(word) <= _LONGEST_NUMBER and book.entry(int(word)) is not None:
        remedy = f"for entry {word} write entry:{word}"
    elif owners:
        remedy = f"the book knows files below it, of {_list_some(list(owners))}"
    elif named:
        remedy = f"the book knows the name: {_list_some(list(named))}"
    return UsageError(
        f"there is no file {place.as_posix()}, and the book has seen none under that path",
        remedy=remedy,
    )


def _list_some(names: list[str]) -> str:
    if len(names) <= _SHOWN:
        return join_choices(names)
    return f"{', '.join(names[:_SHOWN])} and {len(names) - _SHOWN} more"


def _store(path: Path, book: Book) -> str:
    """Return a typed path as the book would store it."""
    absolute = Path(os.path.abspath(path))  # noqa: PTH100 - resolve() would follow links
    return make_book_path(absolute, book.folder)[0]


def _describe(target: Target) -> str:
    if target.kind == "file":
        return "the beginning of a digest in the book"
    return f"{target.kind} {target.id} of the book"


def _spell(target: Target) -> str:
    return f"{'digest' if target.kind == 'file' else target.kind}:{target.id}"


def _example(kind: str) -> str:
    letters = {name: letter for letter, name in KINDS.items()}
    if kind == "entry":
        return "the number of an entry, such as entry:31"
    if kind == "digest":
        return "at least 8 hexadecimal digits"
    if kind == "finding":
        return f"at least {_SHORTEST_FINDING} characters of a finding's id"
    return f"an id such as {kind}:{letters[kind]}1"
