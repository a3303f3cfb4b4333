"""One record field: how it is asked, how an answer is read, what a blank costs."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from enum import StrEnum

from ledger.dataclass import dataclass
from ledger.model.known import NOTHING, KnownValue

# The answer that says that there was nothing.
_NONE = "none"


class FieldType(StrEnum):
    """How an answer is read and stored."""

    TEXT = "text"
    CHOICE = "choice"
    NUMBER = "number"
    COUNT = "count"
    YES_NO = "yes or no"
    VECTOR = "three numbers"
    DATE = "date"
    TIME = "time, UTC"
    FILE = "file"
    CRS = "coordinate system"


@dataclass(frozen=True)
class Field:
    """One thing that may be recorded.

    Args:
        key: `run.mount_mode`.
        question: as it is asked.
        type: how an answer is read.
        unit: unit of a number, empty for none.
        choices: allowed answers of a choice.
        why: what a blank costs, in one clause.
        core: asked in the plain form; the others only by `--set` or `--from`.
        when: a field and the answers to it under which the plain form asks this one, an empty
            text among them for a blank; empty for always.
        follows: fields of which one has to have a value for this one to mean anything: the axes
            of a lever arm mean nothing without the arm. `none` counts as no value.
        doubted_with: fields of which another answer makes the one of last time doubtful: heights
            of another kind were not made with the geoid of last time.
        note: what an answer has to say beyond unit and format, in one clause.
        weight: how far a fault can move the result that nobody sees because of a blank: 4 for
            tens of metres, 3 for metres, 2 for decimetres, 1 for not at all; common practice, no
            source.
    """

    key: str
    question: str
    type: FieldType = FieldType.TEXT
    unit: str = ""
    choices: tuple[str, ...] = ()
    why: str = ""
    core: bool = True
    when: tuple[str, tuple[str, ...]] = ("", ())
    follows: tuple[str, ...] = ()
    doubted_with: tuple[str, ...] = ()
    note: str = ""
    weight: int = 1

    @property
    def entry(self) -> str:
        """Return the kind of record that the field belongs to."""
        return self.key.split(".", 1)[0]

    @property
    def name(self) -> str:
        """Return the part of the key after the kind."""
        return self.key.split(".", 1)[1]

    def is_wanted(self, values: Mapping[str, KnownValue]) -> bool:
        """Say whether the plain form of a record with these values asks this field."""
        deciding, answers = self.when
        known = values.get(deciding)
        answer = "" if known is None or known.value in NOTHING else known.value
        fits = not deciding or answer in answers
        return self.core and fits and self._has_what_it_follows(values)

    def _has_what_it_follows(self, values: Mapping[str, KnownValue]) -> bool:
        known = [values[key] for key in self.follows if key in values]
        return not self.follows or any(each.value not in (*NOTHING, _NONE) for each in known)

    def may_follow(self, keys: Iterable[str]) -> bool:
        """Say whether the answer to one of these fields may make the plain form ask this one."""
        return self.core and bool({self.when[0], *self.follows} & set(keys))
