"""Whether two surveys may be subtracted, as plain records."""

from __future__ import annotations

from enum import StrEnum

from ledger.dataclass import dataclass


class Agreement(StrEnum):
    """How two jobs stand in one topic."""

    ALIKE = "alike"
    APART = "apart"
    NOT_KNOWN = "not known"


class Answer(StrEnum):
    """May one survey be subtracted from the other as it is?"""

    YES = "yes"
    NO = "no"
    NOT_KNOWN = "not known"


@dataclass(frozen=True)
class Topic:
    """One thing that both surveys have to share.

    Args:
        name: `frame`, `epoch`, `coordinate system`, `heights`, `geoid`, `units`, `scale basis`,
            `software`, or `runs`.
        before: what the first job says; empty where it says nothing.
        after: what the second says.
        state: how they stand.
        why: why they are apart or not known, in one sentence; empty where they are alike.
    """

    name: str
    before: str
    after: str
    state: Agreement
    why: str = ""


@dataclass(frozen=True)
class JobComparison:
    """Two jobs, held against each other.

    Args:
        first: name of the first job's folder.
        second: name of the second.
        first_runs: ids of the runs that speak for the first.
        second_runs: the same of the second.
        topics: topic by topic, those apart first.
    """

    first: str
    second: str
    first_runs: tuple[str, ...]
    second_runs: tuple[str, ...]
    topics: tuple[Topic, ...]

    @property
    def answer(self) -> Answer:
        """Return whether they may be subtracted as they are."""
        states = {topic.state for topic in self.topics}
        if Agreement.APART in states:
            return Answer.NO
        return Answer.NOT_KNOWN if Agreement.NOT_KNOWN in states else Answer.YES

    @property
    def is_same(self) -> bool:
        """Say whether they may be subtracted."""
        return self.answer is Answer.YES
