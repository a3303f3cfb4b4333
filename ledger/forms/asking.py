"""Asking a person for what no file tells: only the blanks, Enter confirms what was carried over."""

from __future__ import annotations

import os
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace

from ledger.errors import SwathbookError
from ledger.forms.answers import FileFinder, parse_answer, show_value
from ledger.forms.unfinished import Unfinished
from ledger.model.ask import Ask, Question
from ledger.model.fields import Field, FieldType, list_fields
from ledger.model.known import KnownBy, KnownValue
from ledger.model.phrases import count_things

# A question is asked again after a wrong answer, and left blank after this many.
_MOST_TRIES = 3

# What belongs to one occasion: offering the last one would invite a wrong Enter. The height of the
# base antenna is among them, because it is measured anew at every set-up.
ONCE_ONLY = frozenset(
    {
        "flight.base_height",
        "flight.takeoff",
        "flight.landing",
        "flight.wind",
        "flight.note",
        "run.started",
        "run.purpose",
        "run.decision",
        "run.reason",
    }
)


@dataclass(frozen=True)
class Interview:
    """One form that a person is asked through.

    Args:
        kind: kind of record (`rig`, `flight`, `run`).
        ask: the person.
        files: where files that answers name are looked for.
        unfinished: where answers are kept until the record is made.
        carried: values of the last record of this kind, by field key.
        standing: values that this very record has already; Enter leaves them as they are.
        choices: the only answers to some fields, by field key; no question where there is none.
    """

    kind: str
    ask: Ask
    files: FileFinder
    unfinished: Unfinished
    carried: Mapping[str, KnownValue] = field(default_factory=dict)
    standing: Mapping[str, KnownValue] = field(default_factory=dict)
    choices: Mapping[str, tuple[str, ...]] = field(default_factory=dict)

    def fill(self, given: Mapping[str, KnownValue]) -> dict[str, KnownValue]:
        """Return the given values and the answers to everything else that the form asks.

        Where nobody is there, nothing is asked and nothing is carried over.

        Args:
            given: values known already, by field key; they are not asked.
        """
        answers = dict(given)
        if not self.ask.interactive:
            return answers
        answers = {**self._take_up(), **answers}
        for each in self._list_questions():
            if each.key not in answers:
                answer = self._ask(each)
                if answer is not None:
                    answers[each.key] = answer
                    self.unfinished.keep(answers)
        return answers

    def _list_questions(self) -> Iterator[Field]:
        for each in list_fields(self.kind):
            choices = self.choices.get(each.key)
            if choices is not None:
                each = replace(each, type=FieldType.CHOICE, choices=choices)  # noqa: PLW2901
            if each.core and choices != ():
                yield each

    def _find_default(self, asked: Field) -> KnownValue | None:
        if asked.key in self.standing:
            return self.standing[asked.key]
        return None if asked.key in ONCE_ONLY else self.carried.get(asked.key)

    def _take_up(self) -> dict[str, KnownValue]:
        """Return the answers of a form that was interrupted, where the person wants them."""
        kept = self.unfinished.read()
        if not kept:
            return {}
        question = Question(
            key="unfinished",
            text=f"A form was left with {count_things(len(kept), 'answer')}. Go on with it",
            default="yes",
        )
        if self.ask.confirm(question):
            return kept
        self.unfinished.clear()
        return {}

    def _ask(self, asked: Field) -> KnownValue | None:
        """Return the answer to one question; None when it stays blank."""
        carried = self._find_default(asked)
        default = _write_default(asked, carried)
        explanation = ""
        for _ in range(_MOST_TRIES):
            text = self.ask.answer(
                Question(asked.key, _word(asked), default, _list_choices(asked), explanation)
            ).strip()
            if not text:
                return None
            try:
                if carried is not None and text == default:
                    return self._confirm(asked, carried)
                return parse_answer(asked, text, files=self.files)
            except SwathbookError as error:
                explanation = str(error)
        return None

    def _lies_there(self, text: str) -> bool:
        return bool(text) and os.path.exists(self.files.find(text))

    def _confirm(self, asked: Field, carried: KnownValue) -> KnownValue:
        """Return a value as confirmed now. What was assumed stays assumed.

        A carried file is what lies at its path now: when that is another one, it is not carried.
        """
        if asked.type is FieldType.FILE and self._lies_there(carried.where):
            now = parse_answer(asked, carried.where, files=self.files)
            if now.value != carried.value:
                return now
        if asked.key in self.standing:
            return replace(carried, confirmed=True)
        assumed = carried.known_by is KnownBy.ASSUMED
        known_by = KnownBy.ASSUMED if assumed else KnownBy.CARRIED
        return replace(carried, known_by=known_by, confirmed=True)


def _word(asked: Field) -> str:
    return f"{asked.question}, {asked.unit}" if asked.unit else asked.question


def _list_choices(asked: Field) -> tuple[str, ...]:
    return ("yes", "no") if asked.type is FieldType.YES_NO else asked.choices


def _write_default(asked: Field, carried: KnownValue | None) -> str:
    """Return a carried value as it would be typed; a file by where it lay."""
    if carried is None:
        return ""
    return carried.where if asked.type is FieldType.FILE else show_value(carried)
