"""Somebody who answers questions from a list."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

from ledger.forms import Interview
from ledger.model.ask import Question


class Scripted:
    """A person who answers by key and notes what was asked; Enter takes what is offered."""

    interactive = True

    def __init__(
        self,
        answers: Mapping[str, str | Sequence[str]] | None = None,
        *,
        picks: Mapping[str, str] | None = None,
        yes: Sequence[bool] = (),
        ticks: Sequence[int | str] = (),
        at: str = "",
    ) -> None:
        """Keep what to answer.

        Args:
            answers: by key one text, given each time the question comes, or texts in turn; Enter
                for other keys, and where they are used up.
            picks: by key how the choice begins that is taken; typed where none begins so.
            yes: what to say to confirmations, in turn; their default when used up.
            ticks: the choices to tick, by their place from 0 or by how they begin.
            at: key at which the person presses Ctrl-C.
        """
        self._answers = {
            key: said if isinstance(said, str) else list(said)
            for key, said in (answers or {}).items()
        }
        self._picks = picks or {}
        self._yes = list(yes)
        self._ticks = ticks
        self._at = at
        self.asked: list[Question] = []
        self.told: list[str] = []

    def answer(self, question: Question) -> str:
        """Answer by key."""
        self.asked.append(question)
        if question.key == self._at:
            raise KeyboardInterrupt
        if question.key in self._picks:
            start = self._picks[question.key]
            return next((each for each in question.choices if each.startswith(start)), start)
        said = self._answers.get(question.key, [])
        if isinstance(said, str):
            return said
        return said.pop(0) if said else question.default

    def confirm(self, question: Question) -> bool:
        """Say yes or no in turn."""
        self.asked.append(question)
        return self._yes.pop(0) if self._yes else question.default == "yes"

    def choose_many(self, question: Question) -> tuple[str, ...]:
        """Tick what was told."""
        self.asked.append(question)
        return tuple(
            choice
            for place, choice in enumerate(question.choices)
            if any(choice.startswith(t) if isinstance(t, str) else t == place for t in self._ticks)
        )

    def tell(self, line: str) -> None:
        """Keep what is said between questions."""
        self.told.append(line)

    def texts(self, key: str) -> list[str]:
        """Return the words of what was asked under a key."""
        return [question.text for question in self.find(key)]

    def find(self, key: str) -> list[Question]:
        """Return what was asked under a key."""
        return [question for question in self.asked if question.key == key]


Make = Callable[..., Interview]
