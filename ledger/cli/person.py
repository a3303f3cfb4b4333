"""Who answers: a person at a terminal, or nobody."""

from __future__ import annotations

import sys

from ledger.loading import load_part
from ledger.model.ask import Ask, NobodyToAsk


def make_ask() -> Ask:
    """Return a terminal to ask at, or somebody who answers nothing where there is none."""
    if sys.stdin is not None and sys.stdin.isatty() and sys.stdout.isatty():
        # The library of questions is worth its load only where they are asked.
        terminal: Ask = load_part("ledger.cli.asking", "TerminalAsk")()
        return terminal
    return NobodyToAsk()
