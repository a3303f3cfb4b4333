"""Altering what a file says and keeping its form, so that an input gets past the first look at it.

Whoever flips bytes of a TOML file, of a JSON object or of a book tests the library that reads it.
Here values change their kind and size, keys go, come and trade places, and what is written is well
formed; digests and trees are computed anew, so that they fit.
"""

from __future__ import annotations

import base64
import copy
import json
import sqlite3
import tempfile
import tomllib
from collections.abc import Callable
from contextlib import closing, suppress
from datetime import UTC, date, datetime
from datetime import time as day_time
from pathlib import Path
from typing import Any

import tomlkit
from alter import Dice, alter

from ledger.store.blobs import pack

Reshape = Callable[[bytes, Dice], bytes]

_WORDS = (
    *("", " ", "R1", "F1", "F99", "R0", "H1", "D1", "../..", "/", "C:\\x", "a/b", "nul", "\0"),
    *("\u202e", "\ud800", "\u0000x", "é", "e\u0301", "x" * 3000, "9" * 400, "-", "…", "none"),
    *("2026-13-45", "2026-02-30T25:61:61Z", "0000-01-01", "1e999", "-0", "nan", "0x10", "1,5"),
    *("EPSG:6346+5703", "EPSG:0", "0.05 m", "3 ft", "-1 m", "1e400 m", "accepted", "rejected"),
    *("0" * 64, "f" * 64, "files", "audit", "seal", "withhold", "audit:1", "entry:1", "conforms"),
)
_NUMBERS = (0, 1, -1, 2, 255, 2**31, 2**53 - 1, 2**53, -(2**53), 2**63, 10**40, 0.1, -0.5, 1e308)
_ODD = (float("nan"), float("inf"), 5e-324)
_MOST_TIMES = 4
_KEYS = 0.3  # of the changes are made to keys
_DEPTH = 60
Place = tuple[Any, Any]


def reshape_value(value: Any, dice: Dice) -> Any:
    """Return a tree of mappings, lists and scalars, changed in a few places."""
    box = [copy.deepcopy(value)]
    for _ in range(dice.randint(1, _MOST_TIMES)):
        places = list(_list_places(box))
        holder, key = dice.choice(places)
        if isinstance(holder, dict) and dice.random() < _KEYS:
            _change_key(holder, key, dice)
        else:
            holder[key] = _make_other(holder[key], places, dice)
    return box[0]


def _list_places(holder: Any) -> list[Place]:
    found: list[Place] = []
    open_ones = [holder]
    while open_ones:
        holder = open_ones.pop()
        keys = list(holder) if isinstance(holder, dict) else range(len(holder))
        found += [(holder, key) for key in keys]
        open_ones += [holder[key] for key in keys if isinstance(holder[key], dict | list)]
    return found


def _change_key(holder: dict[str, Any], key: str, dice: Dice) -> None:
    """Leave a key out, misspell it, or let it trade places with another."""
    what = dice.randrange(4)
    other = dice.choice(list(holder))
    if what == 0:
        del holder[key]
    elif what == 1:
        holder[dice.choice((f"{key}s", key[1:], key.upper(), *_WORDS[:20]))] = holder.pop(key)
    elif what == 2:
        holder[key], holder[other] = holder[other], holder[key]
    else:
        holder[dice.choice(_WORDS)] = holder[key]


def _make_other(value: Any, places: list[Place], dice: Dice) -> Any:
    """Return another value: near the old one, of another kind, or from another place."""
    return dice.choice((_draw, _draw, _borrow, _wrap, _vary, _vary, _vary))(value, places, dice)


def _draw(_: Any, __: list[Place], dice: Dice) -> Any:
    return dice.choice((*_WORDS, *_NUMBERS))


def _borrow(value: Any, places: list[Place], dice: Dice) -> Any:
    holder, key = dice.choice(places)
    return copy.deepcopy(holder.get(key) if isinstance(holder, dict) else value)


def _wrap(value: Any, _: list[Place], dice: Dice) -> Any:
    ways: tuple[Any, ...] = (
        [],
        {},
        [value],
        {"id": value},
        [[]],
        [value, value],
        True,
        False,
        None,
    )
    return dice.choice((*ways, _nest(value, _DEPTH)))


def _vary(value: Any, _: list[Place], dice: Dice) -> Any:
    if isinstance(value, str):
        return alter(value.encode("utf-8", "surrogatepass"), dice).decode("utf-8", "replace")
    if isinstance(value, int | float):
        return dice.choice((*_NUMBERS, -value, value + 1, value * 1000, str(value), *_ODD))
    if isinstance(value, list):
        return value * dice.choice((0, 2, 40))
    return dice.choice(_WORDS)


def _nest(value: Any, depth: int) -> Any:
    for _ in range(depth):
        value = [value]
    return value


# Texts.


def reshape_toml(content: bytes, dice: Dice) -> bytes:
    """Return a TOML file that says something else; bytes that are none are altered blindly."""
    try:
        value = tomllib.loads(content.decode("utf-8"))
        changed = _keep_what_toml_has(reshape_value(value, dice), dice)
        return tomlkit.dumps(changed).encode("utf-8")
    except (ValueError, TypeError, OverflowError, RecursionError, AttributeError):
        return alter(content, dice)


def _keep_what_toml_has(value: Any, dice: Dice) -> Any:
    if isinstance(value, dict):
        return {str(key): _keep_what_toml_has(each, dice) for key, each in value.items()}
    if isinstance(value, list):
        return [_keep_what_toml_has(each, dice) for each in value]
    if value is None:
        days = date(1, 1, 1), day_time(23, 59, 59), datetime(9999, 12, 31, tzinfo=UTC)
        return dice.choice((*days, date(2026, 5, 4)))
    return value


def reshape_json(content: bytes, dice: Dice) -> bytes:
    """Return JSON, one object a line or one altogether, that says something else."""
    lines = content.split(b"\n")
    if _is_json(content):
        return _reshape_object(content, dice)
    where = [number for number, line in enumerate(lines) if _is_json(line)]
    if not where:
        return alter(content, dice)
    number = dice.choice(where)
    lines[number] = _reshape_object(lines[number], dice)
    if dice.random() < _KEYS:
        lines.insert(dice.randint(0, len(lines)), dice.choice(lines))
    return b"\n".join(lines)


def _is_json(content: bytes) -> bool:
    try:
        json.loads(content)
    except (ValueError, RecursionError):
        return False
    return True


def _reshape_object(content: bytes, dice: Dice) -> bytes:
    """Return a JSON text in the one form that the book has: keys in order, no spaces."""
    changed = reshape_value(json.loads(content), dice)
    plain = dice.random() < 0.9
    text = json.dumps(changed, sort_keys=plain, separators=(",", ":") if plain else None)
    return text.encode("ascii")


# Books.


def reshape_journal(content: bytes, dice: Dice) -> bytes:
    """Return entries and blobs, as `forge_book` takes them, that say something else.

    Most keep their form and change what they say; digests of blobs are named anew.
    """
    lines = content.split(b"\n")
    for _ in range(dice.randint(1, 2)):
        number = dice.randrange(len(lines))
        if lines[number].startswith(b"="):
            lines = _reshape_blob(lines, number, dice)
        elif _is_json(lines[number]):
            lines[number] = _reshape_body(lines[number], dice)
    if dice.random() < 0.1:
        lines.insert(dice.randint(0, len(lines)), dice.choice(lines))
    return b"\n".join(lines)


def _reshape_body(line: bytes, dice: Dice) -> bytes:
    body = json.loads(line)
    if dice.random() < 0.8 and isinstance(body, dict) and "values" in body:
        body["values"] = reshape_value(body["values"], dice)
        return json.dumps(body, sort_keys=True, separators=(",", ":")).encode("ascii")
    return _reshape_object(line, dice)


def _reshape_blob(lines: list[bytes], number: int, dice: Dice) -> list[bytes]:
    """Return lines with one blob changed, and the digests that name it."""
    try:
        old = base64.b64decode(lines[number][1:], validate=True)
    except ValueError:
        return lines
    new = (reshape_json if _is_json(old) else reshape_toml)(old, dice)
    before, after = pack(old).digest, pack(new).digest
    lines = list(lines)
    lines[number] = b"=" + base64.b64encode(new)
    pairs = [(before.sha256, after.sha256), (before.stored, after.stored)]
    pairs.append((f'"bytes":{before.bytes},"stored"', f'"bytes":{after.bytes},"stored"'))
    for place, line in enumerate(lines):
        if not line.startswith(b"=") and before.sha256.encode() in line:
            for one, other in pairs:
                lines[place] = lines[place].replace(one.encode(), other.encode())
    return lines


_STATEMENTS = (
    "PRAGMA user_version = {number}",
    "PRAGMA application_id = {number}",
    "PRAGMA journal_mode = WAL",
    "PRAGMA auto_vacuum = FULL",
    "DROP TRIGGER {trigger}",
    "DROP TABLE {table}",
    "DELETE FROM {table}",
    "DELETE FROM {table} WHERE rowid = {small}",
    "UPDATE {table} SET {column} = {value}",
    "UPDATE {table} SET {column} = {value} WHERE rowid = {small}",
    "UPDATE {table} SET {column} = {value} WHERE rowid = {small}",
    "INSERT OR REPLACE INTO {table} SELECT * FROM {table} LIMIT 1",
    "INSERT INTO journal VALUES ({number}, {value}, {value})",
    "INSERT INTO blobs VALUES ({value}, {value})",
    "ALTER TABLE {table} ADD COLUMN more",
    "ALTER TABLE {table} RENAME TO other",
    "CREATE VIEW other AS SELECT * FROM {table}",
    "CREATE TRIGGER other AFTER INSERT ON journal BEGIN DELETE FROM {table}; END",
    "CREATE TRIGGER other BEFORE INSERT ON {table} BEGIN SELECT RAISE(ABORT, 'no'); END",
    "VACUUM",
)
_VALUES = ("NULL", "0", "-1", "9223372036854775807", "''", "'x'", "x''", "zeroblob(9)", "1e300")


def reshape_book(content: bytes, dice: Dice) -> bytes:
    """Return a book that somebody worked on with a program for databases."""
    with tempfile.TemporaryDirectory() as name:
        place = Path(name) / "book"
        place.write_bytes(content)
        try:
            with closing(sqlite3.connect(place, isolation_level=None)) as connection:
                _work_on(connection, dice)
        except sqlite3.Error:
            return alter(content, dice)
        changed = place.read_bytes()
    return changed if changed != content else alter(content, dice)


def _work_on(connection: sqlite3.Connection, dice: Dice) -> None:
    connection.execute("PRAGMA synchronous = OFF")
    named = connection.execute("SELECT type, name FROM sqlite_master").fetchall()
    tables = [name for kind, name in named if kind == "table"]
    triggers = [name for kind, name in named if kind == "trigger"]
    if dice.random() < 0.5:  # the first thing that stands in the way
        for trigger in triggers:
            connection.execute(f"DROP TRIGGER {trigger}")
    for _ in range(dice.randint(1, 3)):
        table = dice.choice(tables or ["journal"])
        columns = [row[1] for row in connection.execute(f"PRAGMA table_info({table})")]
        statement = dice.choice(_STATEMENTS).format(
            table=table,
            column=dice.choice(columns or ["seq"]),
            trigger=dice.choice(triggers or ["none"]),
            number=dice.choice((0, 1, 2, 3, 99, -1, 2**31 - 1)),
            small=dice.randint(1, 8),
            value=dice.choice(_VALUES),
        )
        with suppress(sqlite3.Error):
            connection.execute(statement)
