"""What the words after `trace` mean: a file, a digest, or an id of the book.

A word that could mean two things is an error that names both; `run:R1`, `entry:31`, `digest:…` and
`./R1` each mean one.
"""

from __future__ import annotations

import os
import re
from dataclasses import dataclass
from pathlib import Path

from ledger.errors import UsageError
from ledger.fixity import read_fixity
from ledger.model.ask import Progress
from ledger.model.entry import Kind
from ledger.model.filename import make_book_path
from ledger.model.ids import KINDS, read_id
from ledger.store.reading import Book
from ledger.walk import read_dropped_path

RECORDED_PATH = "recorded path"

_NAMED = re.compile(r"^(flight|rig|run|step|audit|entry|digest):(.+)$", re.IGNORECASE)
_DIGEST = re.compile(r"^[0-9a-fA-F]{8,64}$")
_WHOLE_DIGEST = 64


@dataclass(frozen=True)
class Target:
    """What is traced.

    Args:
        kind: `file`, `flight`, `rig`, `run`, `step`, `audit` or `entry`.
        id: `R1`, the number of an entry, or the digest of a file.
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
    named = _NAMED.match(text)
    if named is not None:
        return _find_named(book, named[1].lower(), named[2])
    path = read_dropped_path(text)
    is_there = os.path.exists(path)
    meant = _find_id(book, text) or _find_digest(book, text)
    if is_there and meant is not None and meant.known:
        raise UsageError(
            f"{text} is both a file here and {_describe(meant)}",
            remedy=f"write ./{text} for the file, {_spell(meant)} for the other",
        )
    if os.path.isdir(path):
        raise UsageError(
            f"{text} is a folder, and a trace follows one file",
            remedy="name a file in it; the whole folder is looked at by swathbook audit",
        )
    if is_there:
        return Target("file", read_fixity(path, progress).sha256, path=_store(path, book))
    return meant or _find_recorded(book, path, text)


def _find_named(book: Book, kind: str, rest: str) -> Target:
    if kind == "digest":
        found = _find_digest(book, rest)
    elif kind == "entry":
        known = rest.isdecimal() and book.entry(int(rest)) is not None
        found = Target("entry", rest, known=known)
    else:
        found = _find_id(book, rest)
    if found is None or kind not in ("digest", found.kind):
        raise UsageError(f"{rest} is no {kind}", expected=_example(kind))
    return found


def _find_id(book: Book, text: str) -> Target | None:
    read = read_id(text)
    if read is None:
        return None
    name, kind = read.name, read.kind
    if kind in ("flight", "rig"):
        known = book.card(name) is not None
    elif kind == "audit":
        known = any(entry.values.get("id") == name for entry in book.entries(Kind.AUDIT))
    else:
        known = book.process(name) is not None
    return Target(kind, name, known=known)


def _find_digest(book: Book, text: str) -> Target | None:
    if _DIGEST.match(text) is None:
        return None
    wanted = text.lower()
    if len(wanted) == _WHOLE_DIGEST:
        return Target("file", wanted, known=bool(book.uses(wanted)))
    found = sorted(digest for digest in _list_digests(book) if digest.startswith(wanted))
    if len(found) > 1:
        raise UsageError(
            f"{len(found)} files of the book have a digest that begins with {text}",
            found=", ".join(digest[: len(wanted) + 4] for digest in found[:4]),
            remedy="give more digits",
        )
    return Target("file", found[0] if found else wanted, known=bool(found))


def _list_digests(book: Book) -> set[str]:
    digests = {record.sha256 for record in book.files_last_seen()}
    for process in book.processes():
        digests.update(output.file.sha256 for output in process.outputs)
        digests.update(item.sha256 for item in process.inputs if item.sha256)
    return digests


def _find_recorded(book: Book, path: Path, text: str) -> Target:
    """Return the file that the book last saw under a path where there is none now."""
    typed = path.as_posix()
    # As typed too: a name that is gone may have had blanks at its ends, or quotes.
    names = (_store(path, book), typed, _store(Path(text), book))
    for record in book.files_last_seen():
        if record.path in names:
            return Target("file", record.sha256, path=record.path, by_path=True)
    raise UsageError(
        f"there is no file {typed}, and the book has seen none under that path",
        remedy="give a path, at least 8 digits of a SHA-256, or an id such as R1",
    )


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
    return f"an id such as {kind}:{letters[kind]}1"
