"""How a command asks and reports, without knowing about terminals.

The commands of the core take an `Ask` and a `Progress`; only the command line has real ones.
"""

from __future__ import annotations

from typing import Protocol

from ledger.dataclass import dataclass
from ledger.errors import UnansweredError


@dataclass(frozen=True)
class Question:
    """One question to a person.

    Args:
        key: the record field or option that the answer fills, as `--set` would name it.
        text: the question in the words of the trade.
        default: the answer that Enter confirms; empty for none.
        choices: the allowed answers, in the order shown; empty for free text.
        hint: unit and format of the answer, and what Enter does; shown below the question.
        help: one sentence shown after a wrong answer.
        required: one of the choices has to be chosen; there is no blank.
    """

    key: str
    text: str
    default: str = ""
    choices: tuple[str, ...] = ()
    hint: str = ""
    help: str = ""
    required: bool = False


class Ask(Protocol):
    """Something that answers questions."""

    @property
    def interactive(self) -> bool:
        """Say whether a person is there to answer."""

    def answer(self, question: Question) -> str:
        """Return the answer; empty where the person left it blank.

        Raises:
            UnansweredError: nobody is there and the question has no default.
        """

    def confirm(self, question: Question) -> bool:
        """Return True for yes."""

    def choose_many(self, question: Question) -> tuple[str, ...]:
        """Return those of the choices that the person ticked."""

    def tell(self, line: str) -> None:
        """Say something between two questions: how an answer was understood, what is kept."""


class Progress(Protocol):
    """Something that shows how far a long piece of work has come."""

    def start(self, label: str, total: int, unit: str) -> None:
        """Begin a piece of work of `total` units (`bytes`, `points` or `files`)."""

    def advance(self, amount: int) -> None:
        """Add `amount` units to what is done."""

    def finish(self) -> None:
        """End the current piece of work."""

    def notice(self, sentence: str) -> None:
        """Say something at once, from any thread, while the work goes on."""


class NobodyToAsk:
    """Answers nothing: for scripts and for input that is not a terminal."""

    interactive = False

    def answer(self, question: Question) -> str:
        """Return the default, or refuse where there is none."""
        if question.default:
            return question.default
        raise UnansweredError(
            f"{question.key} has to be answered and there is no terminal to ask at",
            remedy=f'add --set {question.key}="…"',
        )

    def confirm(self, question: Question) -> bool:
        """Refuse: a confirmation needs a person."""
        raise UnansweredError(
            f"{question.key} has to be confirmed and there is no terminal to ask at"
        )

    def choose_many(self, question: Question) -> tuple[str, ...]:
        """Refuse: a choice needs a person."""
        raise UnansweredError(f"{question.key} has to be chosen and there is no terminal to ask at")

    def tell(self, line: str) -> None:
        """Say nothing: nobody is there."""


class NoProgress:
    """Shows nothing."""

    def start(self, label: str, total: int, unit: str) -> None:
        """Ignore the start."""

    def advance(self, amount: int) -> None:
        """Ignore the advance."""

    def finish(self) -> None:
        """Ignore the end."""

    def notice(self, sentence: str) -> None:
        """Ignore the sentence."""
