"""A settings map: which key of a program's settings is which record field, said by a person."""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import field as dataclass_field
from typing import Any

from ledger.dataclass import dataclass
from ledger.model.field import Field, FieldType
from ledger.settings.flat import Setting, SettingsText
from ledger.settings.secrets import TAKEN_OUT

_BETWEEN = re.compile(r"[^0-9a-z]+")
_CAMEL = re.compile(r"(?<=[a-z0-9])(?=[A-Z])")
_AXIS = re.compile(r"(?P<stem>.*?)[._-]?(?P<axis>[xyzXYZ012])", re.DOTALL)
_NUMBER = re.compile(r"[-+]?\d+(?:[.,]\d+)?")
_AXES = 3


@dataclass(frozen=True)
class MapRow:
    """Where one record field stands in settings.

    Args:
        field: key of the record field (`run.mount_mode`).
        keys: the flat key, or the three of a vector, in order; none where a person only said which
            keys it is not.
        unit: unit of a number that names none itself; empty for the field's own.
        words: what the program calls an answer → the answer (`UAV` → `drone`).
        refused: keys that a person was offered and said not to be this field.
    """

    field: str
    keys: tuple[str, ...]
    unit: str = ""
    words: Mapping[str, str] = dataclass_field(default_factory=dict)
    refused: tuple[str, ...] = ()

    def read(self, text: SettingsText) -> str | None:
        """Return the answer as a person would type it; None where a key is absent or unclear."""
        found = [text.find(key) for key in self.keys]
        values = [value for value in found if value and TAKEN_OUT not in value]
        if not values or len(values) != len(self.keys):
            return None
        answer = " ".join(values)
        return self.words.get(answer, answer)


@dataclass(frozen=True)
class SettingsMap:
    """All rows of a job, the latest first."""

    rows: tuple[MapRow, ...] = ()

    def read(self, text: SettingsText) -> dict[str, tuple[MapRow, str]]:
        """Return, by record field, the row that applies and the answer that it gives."""
        answers: dict[str, tuple[MapRow, str]] = {}
        for row in self.rows:
            answer = row.read(text)
            if answer is not None:
                answers.setdefault(row.field, (row, answer))
        return answers

    def with_rows(self, rows: Iterable[MapRow]) -> SettingsMap:
        """Return the map with later rows; a row for the same field and keys is replaced."""
        added = tuple(rows)
        places = {(row.field, row.keys) for row in added}
        kept = (row for row in self.rows if (row.field, row.keys) not in places)
        return SettingsMap((*added, *kept))

    def find_refused(self, field: str) -> frozenset[str]:
        """Return the keys that a person said not to be a record field."""
        return frozenset(key for row in self.rows if row.field == field for key in row.refused)

    def refuse(self, field: str, keys: Iterable[str]) -> SettingsMap:
        """Return the map with what a person was offered for a field and did not take."""
        refused = tuple(sorted(self.find_refused(field) | set(keys)))
        return self.with_rows([MapRow(field, (), refused=refused)])

    def to_values(self) -> list[dict[str, Any]]:
        """Return the canonical list that an entry stores."""
        return [
            {
                "field": row.field,
                "keys": list(row.keys),
                "unit": row.unit,
                "words": dict(row.words),
                **({"refused": list(row.refused)} if row.refused else {}),
            }
            for row in self.rows
        ]

    @classmethod
    def from_values(cls, stored: Iterable[Mapping[str, Any]]) -> SettingsMap:
        """Read back what `to_values` stored."""
        return cls(
            tuple(
                MapRow(
                    row["field"],
                    tuple(row["keys"]),
                    row.get("unit", ""),
                    row.get("words", {}),
                    tuple(row.get("refused", ())),
                )
                for row in stored
            )
        )


@dataclass(frozen=True)
class Place:
    """Where a field may stand in settings.

    Args:
        keys: one flat key, or the three of a vector, in order.
        value: what stands there, as a person would type it.
    """

    keys: tuple[str, ...]
    value: str


def rank_places(asked: Field, settings: Iterable[Setting]) -> tuple[Place, ...]:
    """Return where a field may stand in settings, the likeliest first.

    Likeness is that of the words of the key with those of the field's name, and of the value with
    the allowed answers. It only orders a list that a person chooses from. Three numbers stand under
    one key, or under three that differ in their last part alone: x, y, z or 0, 1, 2.
    """
    listed = tuple(settings)
    places = [Place((each.key,), each.value) for each in listed if each.value]
    if asked.type is FieldType.VECTOR:
        whole = [each for each in places if len(_NUMBER.findall(each.value)) >= _AXES]
        places = [*_list_triples(listed), *whole]
    wanted = set(asked.name.split("_"))
    scored = [(_score(asked, wanted, each), each) for each in places]
    likely = [(score, each) for score, each in scored if score > 0]
    return tuple(each for _, each in sorted(likely, key=lambda pair: -pair[0]))


def _list_triples(settings: Iterable[Setting]) -> Iterator[Place]:
    """Yield each three keys that differ in an axis alone."""
    groups: dict[str, dict[str, Setting]] = {}
    for each in settings:
        match = _AXIS.fullmatch(each.key)
        if match is not None and _NUMBER.search(each.value):
            groups.setdefault(match["stem"], {})[match["axis"].lower()] = each
    for members in groups.values():
        for names in ("xyz", "012"):
            if all(name in members for name in names):
                found = [members[name] for name in names]
                keys = tuple(each.key for each in found)
                yield Place(keys, " ".join(each.value for each in found))


def _score(asked: Field, wanted: set[str], place: Place) -> float:
    words = [word for key in place.keys for word in _split(key)]
    shared = sum(max(_likeness(word, each) for each in words) for word in wanted) if words else 0.0
    choices = {word for choice in asked.choices for word in _split(choice)}
    fits = bool(choices & set(_split(place.value)))
    digits = bool(re.search(r"\d", place.value))
    measured = asked.type in (FieldType.NUMBER, FieldType.VECTOR, FieldType.COUNT)
    if measured and not digits:
        return 0.0
    return shared / len(wanted) + fits


def _likeness(first: str, second: str) -> float:
    ratio = difflib.SequenceMatcher(None, first, second).ratio()
    return ratio if ratio >= 0.75 else 0.0


def _split(text: str) -> list[str]:
    return [word for word in _BETWEEN.split(_CAMEL.sub(" ", text).lower()) if word]
