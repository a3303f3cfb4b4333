"""Questions on a terminal: the default is edited in place, choices by arrow key.

A question takes several lines while it is asked and none afterwards: whoever asked tells in one
line how the answer was understood.
"""

from __future__ import annotations

import shutil
import textwrap

import click
import questionary

from ledger.cli.signs import fit_stdout
from ledger.model.ask import Question
from ledger.model.filename import escape_for_screen

_BLANK = "(leave blank)"
_WIDEST = 100
_TICK_ROOM = 8  # pointer and tick before a choice, and a free column at the right edge


class TerminalAsk:
    """Asks the person at the terminal."""

    interactive = True

    def answer(self, question: Question) -> str:
        """Ask for one answer; Enter confirms the default."""
        if question.help:
            self.tell(question.help)
        if question.choices:
            return self._choose_one(question)
        typed = questionary.text(
            _wrap(question.text),
            default=question.default,
            instruction=_put_below(question.hint, ">"),
            erase_when_done=True,
        ).unsafe_ask()
        return str(typed).strip()

    def _choose_one(self, question: Question) -> str:
        choices = [*question.choices, *(() if question.required else (_BLANK,))]
        default = question.default if question.default in question.choices else choices[-1]
        chosen = questionary.select(
            _wrap(question.text),
            choices=[questionary.Choice(_wrap_choice(each), each) for each in choices],
            default=default,
            instruction=_put_below(question.hint),
            erase_when_done=True,
        ).unsafe_ask()
        return "" if chosen == _BLANK else str(chosen)

    def confirm(self, question: Question) -> bool:
        """Ask yes or no."""
        default = question.default == "yes"
        return bool(
            questionary.confirm(
                _wrap(f"{question.text} (y or n, Enter: {'yes' if default else 'no'})"),
                default=default,
                instruction="",
            ).unsafe_ask()
        )

    def choose_many(self, question: Question) -> tuple[str, ...]:
        """Ask which of the choices apply."""
        choices = [questionary.Choice(_wrap_choice(each), each) for each in question.choices]
        chosen = questionary.checkbox(
            _wrap(question.text),
            choices=choices,
            instruction=_put_below(question.hint or "arrows move, space ticks, Enter ends"),
            erase_when_done=True,
        ).unsafe_ask()
        self.tell(f"{question.text}: {'; '.join(chosen) or 'none'}")
        return tuple(str(choice) for choice in chosen)

    def tell(self, line: str) -> None:
        """Print one paragraph, indented below the questions."""
        shown = escape_for_screen(line)
        click.echo(textwrap.fill(shown, _room(), initial_indent="  ", subsequent_indent="    "))


def _room() -> int:
    return min(shutil.get_terminal_size().columns, _WIDEST) - 1


def _wrap(text: str) -> str:
    """Return a question in lines that fit; the library would cut words."""
    return "\n  ".join(_split(text, _room() - 3))


def _put_below(hint: str, mark: str = "") -> str:
    """Return a hint as lines below the question, and before the answer."""
    lines = _split(hint, _room() - 3)
    return "".join(f"\n  {line}" for line in lines) + (f"\n {mark}" if mark else "")


def _wrap_choice(text: str) -> str:
    """Return a choice in lines that fit: cut at the edge, choices would look alike."""
    return "\n      ".join(_split(text, _room() - _TICK_ROOM))


def _split(text: str, width: int) -> list[str]:
    return textwrap.wrap(fit_stdout(escape_for_screen(text)), width)
