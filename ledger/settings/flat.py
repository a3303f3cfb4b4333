"""Nested settings to flat keys: `output.heights`, `filters.0.name`.

A name that holds a dot or a blank is put in quotes, so that no two places share a key. A mapping
that only pairs a name with a value (`{"name": "mount", "value": "drone"}`) is that name.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import TypeAlias

from ledger.dataclass import dataclass
from ledger.errors import MalformedFileError

Nested: TypeAlias = "str | Sequence[Nested] | Mapping[str, Nested] | None"

# Deeper nesting is no settings file, and would exhaust the interpreter's stack.
MOST_DEPTH = 60
MOST_KEYS = 20_000

_PLAIN = re.compile(r"[^\s.\"\[\]=]+")
_NAMES = ("name", "key", "id", "@name", "@key", "@id")
_VALUES = ("value", "#text", "@value")


@dataclass(frozen=True)
class Setting:
    """One value of a settings file.

    Args:
        key: where it stands, in flat form.
        value: its text as written.
    """

    key: str
    value: str


@dataclass(frozen=True)
class SettingsText:
    """What a settings file says, without what nobody may keep.

    Args:
        format: `JSON`, `XML`, `INI`, `TOML`, `YAML` or `key = value`.
        encoding: how its text was stored.
        settings: flat settings in the order of the file, secrets taken out.
        taken_out: keys whose value was a secret or held one.
    """

    format: str
    encoding: str
    settings: tuple[Setting, ...]
    taken_out: tuple[str, ...] = ()

    def find(self, key: str) -> str | None:
        """Return the value of a key; None when it is absent, or given several times."""
        found = [each.value for each in self.settings if each.key == key]
        return found[0] if len(found) == 1 else None


def flatten(nested: Nested, where: str) -> tuple[Setting, ...]:
    """Return the values of nested settings, in the order of the file.

    Raises:
        MalformedFileError: nested too deeply, or too many values.
    """
    pair = read_pair(nested)
    found = []
    for setting in _walk({pair[0]: pair[1]} if pair else nested, (), where):
        found.append(setting)
        if len(found) > MOST_KEYS:
            raise MalformedFileError(
                "holds too many values for settings", expected=f"at most {MOST_KEYS}", where=where
            )
    return tuple(found)


def join_key(names: Iterable[str]) -> str:
    """Return the flat key of a path of names."""
    return ".".join(name if _PLAIN.fullmatch(name) else _quote(name) for name in names)


def _quote(name: str) -> str:
    escaped = name.replace("\\", "\\\\").replace('"', '\\"').replace("\n", "\\n")
    return f'"{escaped}"'


def _walk(nested: Nested, path: tuple[str, ...], where: str) -> Iterator[Setting]:
    if len(path) > MOST_DEPTH:
        raise MalformedFileError(
            "is nested too deeply for settings",
            expected=f"at most {MOST_DEPTH} levels",
            where=where,
        )
    if nested is None or isinstance(nested, str):
        yield Setting(join_key(path), nested or "")
    elif isinstance(nested, Mapping):
        for name, value in _list_members(nested):
            yield from _walk(value, (*path, *name), where)
    else:
        for index, value in enumerate(nested):
            pair = read_pair(value)
            names, inner = ((pair[0],), pair[1]) if pair else ((str(index),), value)
            yield from _walk(inner, (*path, *names), where)


def _list_members(nested: Mapping[str, Nested]) -> Iterator[tuple[tuple[str, ...], Nested]]:
    for name, value in nested.items():
        pair = read_pair(value)
        yield ((name, pair[0]), pair[1]) if pair else ((name,), value)


def read_pair(nested: Nested) -> tuple[str, Nested] | None:
    """Return name and value of a mapping that holds just these two."""
    if not isinstance(nested, Mapping) or len(nested) != 2:
        return None
    lower = {key.lower(): value for key, value in nested.items()}
    name = next((lower[key] for key in _NAMES if key in lower), None)
    value = next((key for key in _VALUES if key in lower), None)
    return (name, lower[value]) if isinstance(name, str) and value is not None else None
