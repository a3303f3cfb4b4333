"""How a check of recorded settings judges: one finding for each process and rule of its topic.

Invariants: a value that is not recorded gives *not assessed* with its key; a value that is assumed,
or carried and not confirmed, may break a rule but never prove it.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from decimal import Decimal
from typing import Any

from ledger.contract.check import Check, Plan
from ledger.contract.evidence import Evidence
from ledger.model.audit import WHOLE_DELIVERY
from ledger.model.finding import Finding, Grade, Outcome
from ledger.model.phrases import count_things
from ledger.model.process import Card
from lidar_checks.settings.case import Case, Judgement, judge
from lidar_checks.settings.chain import Chain, find_capture_chains, find_rootless
from lidar_checks.settings.operands import Finder
from lidar_checks.settings.rule import Rule
from lidar_checks.settings.topics import list_rules

RULE_SOURCE = "common practice, no source"

# Worst first: which of several flights of a run decides.
_WORST_FIRST = (
    Outcome.NONCONFORMING,
    Outcome.NOT_ASSESSED,
    Outcome.INCONCLUSIVE,
    Outcome.CONFORMS,
)


def keep_exact(**numbers: float | None) -> dict[str, Decimal]:
    """Return criteria as exact numbers, by field name; what is blank is left out."""
    return {name: Decimal(repr(each)) for name, each in numbers.items() if each is not None}


class SettingsCheck(Check):
    """A check whose id is a topic of the table of rules."""

    needs = ("records",)
    explains = ("named-cause",)

    def finish(
        self, plan: Plan, summaries: Mapping[str, Any], evidence: Evidence
    ) -> Iterator[Finding]:
        """Judge every way from the raw data to the delivery by every rule of the topic."""
        del summaries
        chains = self.find_chains(evidence)
        if not chains:
            yield self.not_assessed(
                WHOLE_DELIVERY,
                "No accepted or undecided run on raw data stands behind these files.",
                ("records",),
            )
        else:
            yield from self._tell_rootless(evidence)
        for chain in chains:
            for rule in list_rules(self.id):
                if chain.delivers or not rule.last_only:
                    yield from self._judge_chain(rule, chain, plan, evidence)

    def find_chains(self, evidence: Evidence) -> tuple[Chain, ...]:
        """Return what is judged: the runs on raw data behind the delivery."""
        return find_capture_chains(evidence)

    def find_limits(self, plan: Plan) -> dict[str, Decimal]:
        """Return the numbers among the criteria, by field name; most topics have none."""
        del plan
        return {}

    def _tell_rootless(self, evidence: Evidence) -> Iterator[Finding]:
        for process in find_rootless(evidence):
            yield self.not_assessed(
                process.id,
                f"{process.id} used points that no accepted or undecided run on raw data stands "
                "behind: with which settings they were made is not on record.",
                ("records",),
            )

    def _judge_chain(
        self, rule: Rule, chain: Chain, plan: Plan, evidence: Evidence
    ) -> Iterator[Finding]:
        """Yield the finding of one rule about one process; none where it does not apply."""
        flights: tuple[Card | None, ...] = chain.flights.cards or (None,)
        limits = self.find_limits(plan)
        cases = (
            Case(rule, chain, flight, Finder(chain, flight, evidence), limits) for flight in flights
        )
        said = [judgement for case in cases if (judgement := judge(case)) is not None]
        for outcome in _WORST_FIRST:
            worst = [judgement for judgement in said if judgement.outcome is outcome]
            if worst:
                grade = self.find_grade(rule, chain, plan, evidence)
                yield self._tell(rule, chain, worst, grade)
                return

    def find_grade(self, rule: Rule, chain: Chain, plan: Plan, evidence: Evidence) -> Grade:
        """Return how bad it is that a rule is broken; most rules say so once for all."""
        del chain, plan, evidence
        return rule.grade

    def _tell(self, rule: Rule, chain: Chain, judgements: list[Judgement], grade: Grade) -> Finding:
        first, subject = judgements[0], chain.process.id
        sentence = " ".join(dict.fromkeys(judgement.sentence for judgement in judgements))
        parts: dict[str, Any] = {"catalogue": rule.ids, "criterion_source": RULE_SOURCE}
        needs = tuple(dict.fromkeys(need for judgement in judgements for need in judgement.needs))
        if first.outcome is Outcome.CONFORMS:
            return self.conforms(subject, sentence, **parts)
        parts["remedy"] = first.remedy
        if first.outcome is Outcome.NOT_ASSESSED:
            return self.not_assessed(subject, sentence, needs, **parts)
        parts |= {"observed": first.observed, "required": first.required}
        if first.outcome is Outcome.INCONCLUSIVE:
            return self.inconclusive(subject, sentence, needs=needs, **parts)
        files = count_things(len(chain.files), "delivered file comes", "delivered files come")
        return self.nonconforming(grade, subject, f"{sentence} {files} from {subject}.", **parts)
