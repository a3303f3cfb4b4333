"""Names of files that another system cannot hold, or cannot tell apart.

A job travels: it is filled on one computer and opened on another. Names that are two files here and
one on Windows, or none at all, are remarked on while somebody can still do something about it.

Source: Microsoft, Naming Files, Paths, and Namespaces (reserved characters and names, a space or a
period at the end, no case, 260 characters a path).
"""

from __future__ import annotations

import re
from collections.abc import Iterable

# A character that no name may hold, a name of a device with or without an ending, a bad end.
_REFUSED = re.compile(
    r"""[<>:"|?*\\\x00-\x1f] | [ .]$ | ^(con|prn|aux|nul|(com|lpt)[1-9\u00b9\u00b2\u00b3])(\.|$)""",
    re.IGNORECASE | re.VERBOSE,
)
_LONGEST_PATH = 260 - len("C:\\") - 1  # with a drive in front and a NUL at the end
_ROOM_FOR_A_NAME = 12  # a folder that takes no file of eight letters and three more takes none
_EXACT = "\\\\?\\"
_WHOLE = re.compile(r"[A-Za-z]:\\|\\\\[^\\?.]")
_SHOWN = 120


def remark_on_names(paths: Iterable[str]) -> tuple[str, ...]:
    """Return one sentence for each kind of name that does not travel.

    Args:
        paths: paths as the book writes them.
    """
    listed = sorted(paths)
    return tuple(
        sentence
        for sentence in (
            _tell_alike(find_alike(listed)),
            _tell_refused([path for path in listed if is_refused_on_windows(path)]),
        )
        if sentence
    )


def find_alike(paths: Iterable[str]) -> tuple[tuple[str, ...], ...]:
    """Return the groups of paths that only upper and lower case tell apart."""
    groups: dict[str, list[str]] = {}
    for path in paths:
        groups.setdefault(_fold(path), []).append(path)
    return tuple(tuple(group) for group in groups.values() if len(group) > 1)


def _fold(text: str) -> str:
    # Character by character, as file systems do it: a letter that becomes two stays as it is.
    return "".join(upper if len(upper := c.upper()) == 1 else c for c in text)


def is_refused_on_windows(path: str) -> bool:
    """Say whether Windows cannot hold a relative path, or a part of it."""
    if path.startswith("/") or re.match("[A-Za-z]:/", path):
        return False  # it lies outside the job, and stays there
    return len(path) > _LONGEST_PATH or any(_REFUSED.search(part) for part in path.split("/"))


def spell_exactly(path: str) -> str:
    r"""Return a path of Windows as its system opens it letter by letter.

    Without the mark in front it drops a period or space at an end, takes `nul.las` for a device,
    and gives up at 260 characters. Other paths are returned as they are, and relative ones too.

    Args:
        path: with backslashes, as `os.fspath` gives it on Windows.
    """
    parts = path.split("\\")
    if path.startswith(_EXACT) or not _WHOLE.match(path) or not {".", ".."}.isdisjoint(parts):
        return path
    is_long = len(path) >= _LONGEST_PATH - _ROOM_FOR_A_NAME
    if not is_long and not any(_REFUSED.search(part) for part in parts[1:]):
        return path
    return f"{_EXACT}UNC{path[1:]}" if path.startswith("\\\\") else f"{_EXACT}{path}"


def _tell_alike(groups: tuple[tuple[str, ...], ...]) -> str:
    if not groups:
        return ""
    first, second = groups[0][:2]
    more = _tell_more(len(groups) - 1, "other pair", "other pairs")
    return (
        f"{first} and {second} differ only in upper and lower case{more}; "
        "on Windows only one of them can be there"
    )


def _tell_refused(paths: list[str]) -> str:
    if not paths:
        return ""
    shown = paths[0] if len(paths[0]) <= _SHOWN else f"{paths[0][:_SHOWN]}…"
    more = _tell_more(len(paths) - 1, "other file", "other files")
    name = "these names" if len(paths) > 1 else "this name"
    return f"{shown}{more} cannot be copied to Windows under {name}"


def _tell_more(count: int, one: str, many: str) -> str:
    return f", and {count:,} {one if count == 1 else many}" if count else ""
