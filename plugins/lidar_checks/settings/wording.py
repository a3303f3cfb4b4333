"""Sentences of the table of rules with the recorded values put in.

In a sentence `{run}`, `{flight}` and `{tolerance}` stand for themselves, `{key}` for the recorded
value of a key, `{key|how}` for how it is known (` (typed)`), `{key|owner}` for the record that
holds it, and `{key|time}` for a count with its noun (`1 time`, `2 times`). A clause in square
brackets is left out where one of its values is not recorded.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from ledger.dataclass import dataclass
from ledger.model.known import KnownValue
from ledger.model.phrases import count_things
from lidar_checks.settings.operand import SPECIFICATION, Operand

NOT_RECORDED = "not recorded"
_SHORT_DIGEST = 12
_PLACE = re.compile(r"\{([a-z_.]+)(?:\|([a-z ]+))?\}")
_CLAUSE = re.compile(r"\[([^\]]*)\]")
_DIGEST = re.compile(r"[0-9a-f]{64}")


def show_value(value: Any) -> str:  # noqa: ANN401 - a canonical value of any type
    """Return a recorded value as it stands in a sentence."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, (list, tuple)):
        return " ".join(str(part) for part in value)
    text = str(value)
    return f"{text[:_SHORT_DIGEST]}…" if _DIGEST.fullmatch(text) else text


@dataclass(frozen=True)
class Words:
    """What can be put into a sentence.

    Args:
        names: texts by name: `run`, `flight`, `tolerance`.
        operands: what was looked up, by key.
    """

    names: Mapping[str, str]
    operands: Mapping[str, Operand]

    def fill(self, text: str) -> str:
        """Return a sentence with its values put in."""

        def keep(clause: re.Match[str]) -> str:
            known = (self._is_known(name) for name, _ in _PLACE.findall(clause[1]))
            return clause[1] if all(known) else ""

        return _PLACE.sub(lambda place: self._say(place[1], place[2]), _CLAUSE.sub(keep, text))

    def _is_known(self, name: str) -> bool:
        operand = self.operands.get(name)
        return name in self.names or (operand is not None and operand.known is not None)

    def _say(self, name: str, form: str | None) -> str:
        if name in self.names:
            return self.names[name]
        operand = self.operands.get(name)
        if operand is None or operand.known is None:
            return "" if form == "how" else NOT_RECORDED
        if form is None:
            return show_value(operand.known.value)
        if form == "owner":
            return operand.owner
        if form == "how":
            return _say_how(operand.key, operand.known)
        return _count(operand.known.value, form)


def _say_how(key: str, known: KnownValue) -> str:
    """Return how a value is known, in brackets; nothing for what job.toml says and is confirmed."""
    if known.confirmed:
        return "" if key.startswith(SPECIFICATION) else f" ({known.known_by})"
    return f" ({known.known_by}, not confirmed)"


def _count(value: Any, noun: str) -> str:  # noqa: ANN401 - a canonical value of any type
    is_count = isinstance(value, int) and not isinstance(value, bool)
    return count_things(value, noun) if is_count else f"{show_value(value)} {noun}s"
