"""Telling a number beside the findings: what an audit prints even where nothing is asked.

A check yields figures from `finish` among its findings. The audit keeps them in the book, prints
them under their topic and puts them into `--json`. A figure is no verdict: what is judged by it
stands in a finding.
"""

from __future__ import annotations

import re
from decimal import Decimal, InvalidOperation

from ledger.errors import ContractError
from ledger.model.figure import Figure

__all__ = ["MAX_FIGURES", "Figure", "require_figure"]

MAX_FIGURES = 32
"""Figures that one check may tell in an audit."""

_NAME = re.compile(r"[a-z][a-z0-9]*(-[a-z0-9]+)*")


def require_figure(check: str, figure: Figure) -> Figure:
    """Return a figure that a check told, when it can be kept.

    Raises:
        ContractError: its name, its words, its number or its limits are wrong.
    """
    limits = (figure.low, figure.high)
    faults = {
        "name": not isinstance(figure.name, str) or not _NAME.fullmatch(figure.name),
        "topic": not isinstance(figure.topic, str) or not figure.topic.strip(),
        "sentence": not isinstance(figure.sentence, str) or not figure.sentence.strip(),
        "number": bool(figure.value) and not _is_number(figure.value),
        "interval": any(limits) and not all(map(_is_number, (figure.value, *limits))),
        "list of values": bool(figure.values)
        and (len(figure.values) != len(figure.listed) or not all(map(_is_number, figure.values))),
        "steps": bool(figure.step) and not _are_steps(figure),
        "count": figure.count is not None and figure.count < 0,
    }
    wrong = [part for part, is_wrong in faults.items() if is_wrong]
    if wrong:
        raise ContractError(f"a figure of {check} cannot be kept: its {wrong[0]} is wrong")
    return figure


def _are_steps(figure: Figure) -> bool:
    """Say whether there is a lower end, a size above zero, and a count for each step."""
    if not (figure.values and all(map(_is_number, (figure.value, figure.step, *figure.values)))):
        return False
    return Decimal(figure.step) > 0 and all(Decimal(value) >= 0 for value in figure.values)


def _is_number(text: str) -> bool:
    """Say whether a text is a finite decimal number."""
    try:
        return Decimal(text).is_finite()
    except (InvalidOperation, TypeError, ValueError):
        return False
