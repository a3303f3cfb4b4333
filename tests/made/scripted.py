"""Somebody who answers a form from a list."""

from __future__ import annotations

from collections.abc import Callable

from ledger.forms import Interview
from ledger.model.ask import Question


class Scripted:
    """A person who answers by key: texts in turn, Enter for the default, or an exception."""

    interactive = True

    def __init__(
        self,
        answers: dict[str, list[str]],
        *,
        go_on: bool = True,
        at: str = "",
        ticks: tuple[str, ...] = (),
    ) -> None:
        """Keep the answers; at the key `at` the person presses Ctrl-C, `ticks` begin choices."""
        self._ticks = ticks
        self._answers = {key: list(texts) for key, texts in answers.items()}
        self._go_on = go_on
        self._at = at
        self.asked: list[Question] = []
        self.told: list[str] = []

    def answer(self, question: Question) -> str:
        """Return the next answer to this key; Enter where none is left."""
        self.asked.append(question)
        if question.key == self._at:
            raise KeyboardInterrupt
        waiting = self._answers.get(question.key)
        return waiting.pop(0) if waiting else question.default

    def confirm(self, question: Question) -> bool:
        """Take up a form that was interrupted, or not."""
        self.asked.append(question)
        return self._go_on

    def choose_many(self, question: Question) -> tuple[str, ...]:
        """Tick what is not right of the answers that are shown together."""
        self.asked.append(question)
        return tuple(each for each in question.choices if each.startswith(self._ticks))

    def tell(self, line: str) -> None:
        """Keep what is said between questions."""
        self.told.append(line)


Make = Callable[..., Interview]
