"""A settings map: which key of a program's settings is which record field, said by a person."""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from dataclasses import field as dataclass_field
from typing import Any

from ledger.model.field import Field, FieldType
from ledger.settings.flat import Setting, SettingsText
from ledger.settings.secrets import TAKEN_OUT

_BETWEEN = re.compile(r"[^0-9a-z]+")
_CAMEL = re.compile(r"(?<=[a-z0-9])(?=[A-Z])")


@dataclass(frozen=True)
class MapRow:
    """Where one record field stands in settings.

    Args:
        field: key of the record field (`run.mount_mode`).
        keys: the flat key, or the three of a vector, in order.
        unit: unit of a number that names none itself; empty for the field's own.
        words: what the program calls an answer → the answer (`UAV` → `drone`).
    """

    field: str
    keys: tuple[str, ...]
    unit: str = ""
    words: Mapping[str, str] = dataclass_field(default_factory=dict)

    def read(self, text: SettingsText) -> str | None:
        """Return the answer as a person would type it; None where a key is absent or unclear."""
        found = [text.find(key) for key in self.keys]
        values = [value for value in found if value and TAKEN_OUT not in value]
        if len(values) != len(self.keys):
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

    def to_values(self) -> list[dict[str, Any]]:
        """Return the canonical list that an entry stores."""
        return [
            {
                "field": row.field,
                "keys": list(row.keys),
                "unit": row.unit,
                "words": dict(row.words),
            }
            for row in self.rows
        ]

    @classmethod
    def from_values(cls, stored: Iterable[Mapping[str, Any]]) -> SettingsMap:
        """Read back what `to_values` stored."""
        return cls(
            tuple(
                MapRow(row["field"], tuple(row["keys"]), row.get("unit", ""), row.get("words", {}))
                for row in stored
            )
        )


def rank_keys(asked: Field, settings: Iterable[Setting]) -> tuple[Setting, ...]:
    """Return the settings that may hold a field, the likeliest first.

    Likeness is that of the words of the key with those of the field's name, and of the value with
    the allowed answers. It only orders a list that a person chooses from.
    """
    wanted = set(asked.name.split("_"))
    scored = [(_score(asked, wanted, each), each) for each in settings if each.value]
    likely = [(score, each) for score, each in scored if score > 0]
    return tuple(each for _, each in sorted(likely, key=lambda pair: -pair[0]))


def _score(asked: Field, wanted: set[str], setting: Setting) -> float:
    words = _split(setting.key)
    shared = sum(max(_likeness(word, each) for each in words) for word in wanted) if words else 0.0
    choices = {word for choice in asked.choices for word in _split(choice)}
    fits = bool(choices & set(_split(setting.value)))
    digits = bool(re.search(r"\d", setting.value))
    measured = asked.type in (FieldType.NUMBER, FieldType.VECTOR, FieldType.COUNT)
    if measured and not digits:
        return 0.0
    return shared / len(wanted) + fits


def _likeness(first: str, second: str) -> float:
    ratio = difflib.SequenceMatcher(None, first, second).ratio()
    return ratio if ratio >= 0.75 else 0.0


def _split(text: str) -> list[str]:
    return [word for word in _BETWEEN.split(_CAMEL.sub(" ", text).lower()) if word]
