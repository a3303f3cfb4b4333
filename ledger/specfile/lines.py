"""On which line of a TOML file a key stands.

A marker is planted before the key in a parse that keeps every byte; the line breaks before the
marker are counted. That is right inside inline tables and lists too, where a search for the name
would meet its namesakes.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache
from typing import Any

import tomlkit
from tomlkit.exceptions import TOMLKitError
from tomlkit.items import AoT, Array, Item

from ledger.specfile.text import KeyPath

_MARKER = "\ue000here\ue001"


def locate(text: str, key_path: KeyPath) -> int | None:
    """Return the line of a key, counted from 1.

    Args:
        text: the whole file.
        key_path: names from the outermost section inwards; a number for a place in a list.

    Returns:
        The line of the key; of its section's heading where the key is absent; None where even
        the section is absent. A section without one heading of its own (dotted keys, or written
        in two pieces) has the line of its first key.
    """
    document = _parse(text)
    while document is not None and key_path:
        line = _find_line(document, key_path)
        if line is not None:
            return line
        key_path = key_path[:-1]
    return None


@lru_cache(maxsize=1)
def _parse(text: str) -> tomlkit.TOMLDocument | None:
    """Return a parse that keeps every byte; the keys of one file are asked for one by one."""
    try:
        return tomlkit.parse(text)
    except (TOMLKitError, RecursionError):
        return None


def _find_line(document: tomlkit.TOMLDocument, key_path: KeyPath) -> int | None:
    parent: Any = document
    try:
        for part in key_path[:-1]:
            parent = parent[part]
        item = parent[key_path[-1]]
    except (KeyError, IndexError, TypeError, TOMLKitError):
        return None
    if isinstance(parent, Array):
        return _find_element(document, parent, int(key_path[-1]))
    return next(filter(None, (_count(document, each) for each in _descend(item))), None)


def _descend(item: Any) -> Iterator[Item]:  # noqa: ANN401 - whatever the parser made of the value
    """Yield the item, then what is inside it: a section without a heading has no line itself."""
    if isinstance(item, Item):
        yield item
    if isinstance(item, AoT):
        yield from item
    elif isinstance(item, dict):
        for key in item:
            yield from _descend(item[key])


def _count(document: tomlkit.TOMLDocument, item: Item) -> int | None:
    """Return the line of an item; None where it is not written, as a section without a heading."""
    indent = item.trivia.indent
    item.trivia.indent = _MARKER + indent
    written = tomlkit.dumps(document)
    item.trivia.indent = indent
    return _count_marker(written)


def _find_element(document: tomlkit.TOMLDocument, array: Array, index: int) -> int | None:
    element = array[index]
    array[index] = _MARKER
    written = tomlkit.dumps(document)
    array[index] = element
    return _count_marker(written)


def _count_marker(text: str) -> int | None:
    place = text.find(_MARKER)
    return text.count("\n", 0, place) + 1 if place >= 0 else None
