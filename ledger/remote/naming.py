"""Names of objects in the book, so that two of them never share one.

A store takes any text for a name. The book writes it in the form NFC; of two that come out alike,
the one that is exactly so keeps it and the other gets its bytes behind it, as files of a drive do.
A name that no folder of a drive could hold is listed with the reason and not read: it would be sent
as something else.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Iterator

from ledger.dataclass import dataclass
from ledger.remote.files import RemoteFile

# What the library that reads takes for the number of a version, wherever it stands in a name.
_VERSION = "?versionId="


@dataclass(frozen=True)
class NamedObject:
    """An object and its name in the book.

    Args:
        file: the object.
        name: below its folder.
        raw: the bytes of its own name in hex, where `name` is not exactly it; else empty.
        fault: why it cannot be read; empty where nothing speaks against it.
    """

    file: RemoteFile
    name: str
    raw: str = ""
    fault: str = ""


def name_objects(listed: Iterable[RemoteFile]) -> Iterator[NamedObject]:
    """Yield every object of a folder with its name, those that are exact first."""
    taken: set[str] = set()
    for file in sorted(listed, key=lambda each: (not _is_exact(each.key), each.key)):
        name = unicodedata.normalize("NFC", file.key)
        raw = "" if name == file.key else file.key.encode().hex()
        if name in taken:
            name = f"{name} ({raw})"
        taken.add(name)
        yield NamedObject(file, name, raw, _judge(file.key))


def _is_exact(key: str) -> bool:
    return unicodedata.is_normalized("NFC", key)


def _judge(key: str) -> str:
    if any(part in ("", ".", "..") for part in key.split("/")):
        return "a part of its name is empty or leads up, which no folder of a drive can hold"
    if _VERSION in key:
        return "its name holds what is taken for the number of a version"
    return ""
