"""One rule that recorded settings have to keep: a row of the table in `rules.py`."""

from __future__ import annotations

from ledger.dataclass import dataclass
from ledger.model.finding import Grade
from lidar_checks.settings.conditions import Condition


@dataclass(frozen=True)
class Rule:
    """One rule.

    Args:
        ids: id of the rule, then of the failures that it points to; unique in the table.
        topic: id of the check that it belongs to.
        grade: how bad it is when broken.
        operands: keys that must be recorded.
        holds: the condition.
        broken: what is wrong, as a sentence.
        right: what holds, as a sentence.
        remedy: one thing to do.
        found: what was found, where, and how it is known; read once by a tired person.
        expected: what was expected, and because of what.
        when: key and values for which the rule applies; empty when it always does.
        unless: key and values for which it does not apply.
        optional: keys that are looked at when they are recorded.
        completing: keys without which a rule that holds is only *inconclusive*.
        where_known: keys of which one has to be recorded; where none is, the rule has nothing to
            say. For what is seldom recorded and says nothing when it is not.
        unclear: what cannot be told, as a sentence; for conditions that can be unclear.
        last_only: judged only where nothing later changed heights or positions.
    """

    ids: tuple[str, ...]
    topic: str
    grade: Grade
    operands: tuple[str, ...]
    holds: Condition
    broken: str
    right: str
    remedy: str
    found: str
    expected: str
    when: tuple[str, tuple[str, ...]] | None = None
    unless: tuple[str, tuple[str, ...]] | None = None
    optional: tuple[str, ...] = ()
    completing: tuple[str, ...] = ()
    where_known: tuple[str, ...] = ()
    unclear: str = ""
    last_only: bool = False

    @property
    def id(self) -> str:
        """Return the id of the rule."""
        return self.ids[0]

    def list_keys(self) -> tuple[str, ...]:
        """Return every key that it may look at."""
        deciding = tuple(part[0] for part in (self.when, self.unless) if part is not None)
        return (*deciding, *self.where_known, *self.operands, *self.optional, *self.completing)

    def looks_at(self, prefix: str) -> bool:
        """Say whether a key of this beginning must be recorded."""
        return any(key.startswith(prefix) for key in self.operands)
