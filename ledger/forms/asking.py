"""Asking a person for what no file tells: first what stands already, then only the blanks.

What was carried over, or is in the book already, is shown together, and the person says which of it
is not right; only that is asked again. A single such answer stands in its own question.
"""

from __future__ import annotations

import os
from collections.abc import Collection, Iterator, Mapping
from dataclasses import field, replace

from ledger.dataclass import dataclass
from ledger.errors import SwathbookError
from ledger.forms.answers import FileFinder, parse_answer
from ledger.forms.occasion import (
    ONCE_ONLY,
    SAME_OUTING,
    complete_time,
    is_same_outing,
    tell_occasion,
)
from ledger.forms.offers import TYPED, Offer, find_default, take_offer
from ledger.forms.sense import find_doubt, require_sense
from ledger.forms.together import add_followers, drop_stale, list_shown, write_shown
from ledger.forms.unfinished import Unfinished
from ledger.forms.wording import ARROWS, AS_LAST_TIME, TICKS, describe_question, echo
from ledger.model.ask import Ask, Question
from ledger.model.field import Field, FieldType
from ledger.model.fields import COMMAND_FIELDS, FIELDS, list_fields
from ledger.model.known import KnownBy, KnownValue, show_value
from ledger.model.phrases import count_things


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
        title: what is filled in, as it is told before the first question: `Flight F1`.
        offers: ready answers to some fields, by field key; another one may be typed.
        since: where what is carried comes from: `as last time`, `as in the job before, QM-0411`.
    """

    kind: str
    ask: Ask
    files: FileFinder
    unfinished: Unfinished
    carried: Mapping[str, KnownValue] = field(default_factory=dict)
    standing: Mapping[str, KnownValue] = field(default_factory=dict)
    choices: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    title: str = ""
    offers: Mapping[str, tuple[Offer, ...]] = field(default_factory=dict)
    since: str = AS_LAST_TIME

    def fill(self, given: Mapping[str, KnownValue]) -> dict[str, KnownValue]:
        """Return the given values and the answers to everything else that the form asks.

        Where nobody is there, nothing is asked and nothing is carried over. A question that
        follows another one is asked where that one has an answer.

        Args:
            given: values known already, by field key; they are not asked.
        """
        answers = dict(given)
        if not self.ask.interactive:
            return answers
        answers = {**self._take_up(), **answers}
        if COMMAND_FIELDS & answers.keys():
            self.unfinished.keep(answers)
        shown = self._list_shown(answers)
        self._introduce(answers, shown)
        if shown:
            answers |= self._ask_together(shown)
            self.unfinished.keep(answers)
        again = shown.keys() - answers.keys()
        passed = set(answers)
        asked = 0
        while waiting := self._list_waiting(answers, passed, again):
            asked += 1
            passed.add(waiting[0].key)
            place = f"{asked}/{asked + len(waiting) - 1}"
            answered = self._ask_or_offer(waiting[0], place, answers)
            if answered:
                answers |= answered
                passed |= answered.keys()
                self.unfinished.keep(answers)
        return answers

    def _introduce(
        self, answers: Mapping[str, KnownValue], shown: Mapping[str, KnownValue]
    ) -> None:
        known = {**shown, **answers}
        count = len(self._list_waiting(known, set(known)))
        if not count and not shown:
            return
        title = self.title or self.kind.capitalize()
        parts = [f"{count_things(len(shown), 'answer')} to look at"] if shown else []
        parts += [count_things(count, "question")] if count else []
        self.ask.tell(
            f"{title}: {', then '.join(parts)}. Blanks are allowed; Ctrl-C keeps the answers."
        )

    def _list_shown(self, answers: Mapping[str, KnownValue]) -> dict[str, KnownValue]:
        """Return the answers that are shown together; none where one question asks for the same.

        Answers that the plain form does not ask for are among them, since no question comes later.
        """
        defaults = self._find_defaults(answers)
        questions = self._list_questions(defaults)
        shown = list_shown(questions, defaults, {**self.standing, **answers}, answers)
        return shown if len(shown) > 1 or not all(FIELDS[key].core for key in shown) else {}

    def _ask_together(self, shown: Mapping[str, KnownValue]) -> dict[str, KnownValue]:
        """Return the answers that were shown and left as they are, confirmed by that.

        What is ticked, and whatever follows from it, is asked afterwards.
        """
        fields = {each.key: each for each in self._list_questions(shown) if each.key in shown}
        choices = {write_shown(each, shown[key]): key for key, each in fields.items()}
        since = dict.fromkeys(
            "as recorded" if key in self.standing else self.since for key in shown
        )
        question = Question(
            key="shown",
            text=f"{_begin_sentence(' or '.join(since))}. Which of these are not right "
            f"for this {self.kind}",
            choices=tuple(choices),
            hint=TICKS,
        )
        ticked = {choices[choice] for choice in self.ask.choose_many(question)}
        again = add_followers(fields.values(), ticked)
        return {key: self._leave(fields[key], shown[key]) for key in fields if key not in again}

    def _leave(self, shown: Field, default: KnownValue) -> KnownValue:
        """Return an answer that was left as it is, and say where its file is another one now."""
        known = self._confirm(shown, default)
        if known.value != default.value:
            told = self._echo(shown, known)
            self.ask.tell(f"{told} (another file than last time lies there now)")
        return known

    def _list_waiting(
        self,
        answers: Mapping[str, KnownValue],
        passed: Collection[str],
        more: Collection[str] = (),
    ) -> list[Field]:
        """Return the questions to come, those that only an answer to come may call for included.

        Args:
            answers: what was answered so far.
            passed: keys of questions that are behind.
            more: keys that are asked though the plain form does not ask them.
        """
        known = {**self.standing, **answers}
        waiting: list[Field] = []
        for each in self._list_questions(more):
            open_keys = {field.key for field in waiting}
            if each.key not in passed and (each.is_wanted(known) or each.may_follow(open_keys)):
                waiting.append(each)
        return waiting

    def _list_questions(self, more: Collection[str] = ()) -> Iterator[Field]:
        """Yield what the plain form asks, and with it the fields of these keys."""
        for each in list_fields(self.kind):
            choices = self.choices.get(each.key)
            if choices is not None:
                each = replace(each, type=FieldType.CHOICE, choices=choices)  # noqa: PLW2901
            if (each.core or each.key in more) and choices != ():
                yield replace(each, core=True)

    def _find_defaults(self, answers: Mapping[str, KnownValue]) -> dict[str, KnownValue]:
        """Return what Enter takes, by field key: what is recorded, else what was last time."""
        shared = SAME_OUTING if is_same_outing(self.carried, answers) else frozenset()
        once = (ONCE_ONLY | COMMAND_FIELDS) - shared
        offered = {key: each for key, each in self.carried.items() if key not in once}
        fresh = drop_stale(list_fields(self.kind), offered, answers)
        return {**fresh, **self.standing}

    def _take_up(self) -> dict[str, KnownValue]:
        """Return the answers of a form that was interrupted, where the person wants them."""
        kept = self.unfinished.read()
        if kept is None:
            return {}
        about = f", about {kept.about}" if kept.about else ""
        self.ask.tell(f"A form was left on {kept.written}{about}. It has:")
        for key, known in kept.answers.items():
            self.ask.tell(f"  {FIELDS[key].name} = {_write_default(FIELDS[key], known)}")
        same = kept.about == self.unfinished.about
        question = Question(
            key="unfinished",
            text=f"Go on with {count_things(len(kept.answers), 'answer')} (no throws them away)",
            default="yes" if same else "no",
        )
        if self.ask.confirm(question):
            self.ask.tell("A wrong one is put right by --set key=value behind the command.")
            return dict(kept.answers)
        self.unfinished.clear()
        return {}

    def _echo(self, asked: Field, known: KnownValue) -> str:
        return echo(asked, known, self.since)

    def _ask_or_offer(
        self, asked: Field, place: str, answers: Mapping[str, KnownValue]
    ) -> dict[str, KnownValue]:
        """Return the answers to one question; none where it stays blank.

        Where something is offered, one choice may answer several fields, and what it tells is not
        asked.
        """
        offers = self.offers.get(asked.key, ())
        if offers:
            standing = self._find_defaults(answers).get(asked.key)
            default = find_default(asked, offers, _write_default(asked, standing))
            choices = (*(each.text for each in offers), TYPED)
            question = Question(asked.key, f"{place} {asked.question}", default, choices, ARROWS)
            text = self.ask.answer(question).strip()
            chosen = next((each for each in offers if each.text == text), None)
            if chosen is not None:
                return self._take_offer(chosen, answers)
            if not text:
                self._tell_blank(asked)
                return {}
        answer = self._ask(asked, place, answers)
        return {} if answer is None else {asked.key: answer}

    def _take_offer(
        self, chosen: Offer, answers: Mapping[str, KnownValue]
    ) -> dict[str, KnownValue]:
        """Return the answers of an offer; what was said of a field already stays as it was said."""
        taken, changed = take_offer(chosen, FIELDS, self._read_there)
        fresh = {key: known for key, known in taken.items() if key not in answers}
        for key, known in fresh.items():
            self.ask.tell(self._echo(FIELDS[key], known))
        if changed:
            self.ask.tell("Another file than the registered one lies there now.")
        return fresh

    def _read_there(self, asked: Field, where: str) -> KnownValue | None:
        return parse_answer(asked, where, files=self.files) if self._lies_there(where) else None

    def _ask(
        self, asked: Field, place: str, answers: Mapping[str, KnownValue]
    ) -> KnownValue | None:
        """Return the answer to one question; None when it stays blank.

        A wrong answer is explained and stands there to be put right, for as long as it takes: an
        emptied line ends it, and that it is blank is said.
        """
        carried = self._find_defaults(answers).get(asked.key)
        default = shown = _write_default(asked, carried)
        explanation = doubted = ""
        while True:
            hint = describe_question(
                asked,
                shown,
                standing=asked.key in self.standing,
                wrong=bool(explanation),
                remark=tell_occasion(asked.key, answers, has_default=carried is not None),
            )
            question = Question(
                asked.key,
                f"{place} {asked.question}",
                shown,
                _list_choices(asked),
                hint,
                explanation,
            )
            text = self.ask.answer(question).strip()
            if not text:
                self._tell_blank(asked)
                return None
            try:
                if carried is not None and text == default:
                    known = self._confirm(asked, carried)
                else:
                    full = complete_time(asked.key, text, answers)
                    known = parse_answer(asked, full, files=self.files)
                require_sense({**self.standing, **answers, asked.key: known})
            except SwathbookError as error:
                explanation, shown = _explain(error, asked), text
                continue
            doubt = find_doubt(asked.key, known)
            if doubt and text != doubted:
                explanation, shown, doubted = doubt, text, text
                continue
            self.ask.tell(self._echo(asked, known))
            return known

    def _tell_blank(self, asked: Field) -> None:
        stands = self.standing.get(asked.key)
        if stands is None:
            self.ask.tell(f"{asked.question}: left blank")
        else:  # an entry adds and replaces; it takes nothing away
            self.ask.tell(f"{self._echo(asked, stands)}, stays as it is recorded")

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


def _begin_sentence(text: str) -> str:
    return text[:1].upper() + text[1:]


def _explain(error: SwathbookError, asked: Field) -> str:
    """Return what is wrong with an answer; at its own question the key needs no name."""
    faults = (
        replace(fault, what=f"This{fault.what.removeprefix(asked.key)}")
        if fault.what.startswith(asked.key)
        else fault
        for fault in error.faults
    )
    return "; ".join(fault.sentence() for fault in faults)


def _list_choices(asked: Field) -> tuple[str, ...]:
    return ("yes", "no") if asked.type is FieldType.YES_NO else asked.choices


def _write_default(asked: Field, carried: KnownValue | None) -> str:
    """Return a carried value as it would be typed; a file by where it lay."""
    if carried is None:
        return ""
    return carried.where if asked.type is FieldType.FILE else show_value(carried)
