"""Questions on a terminal: the default is edited in place, choices by arrow key."""

from __future__ import annotations

import questionary

from ledger.model.ask import Question


class TerminalAsk:
    """Asks the person at the terminal."""

    interactive = True

    def answer(self, question: Question) -> str:
        """Ask for one answer; Enter confirms the default."""
        if question.choices:
            blank = "(leave blank)"
            choices = [*question.choices, blank]
            default = question.default if question.default in question.choices else blank
            chosen = questionary.select(
                question.text, choices=choices, default=default, instruction="(arrows, Enter)"
            ).unsafe_ask()
            return "" if chosen == blank else str(chosen)
        if question.help:
            questionary.print(question.help)
        return str(questionary.text(question.text, default=question.default).unsafe_ask()).strip()

    def confirm(self, question: Question) -> bool:
        """Ask yes or no."""
        default = question.default == "yes"
        return bool(questionary.confirm(question.text, default=default).unsafe_ask())

    def choose_many(self, question: Question) -> tuple[str, ...]:
        """Ask which of the choices apply."""
        chosen = questionary.checkbox(
            question.text, choices=list(question.choices), instruction="(space ticks, Enter ends)"
        ).unsafe_ask()
        return tuple(str(choice) for choice in chosen)
