"""How a check of recorded settings judges: one finding for each run and rule of its topic.

Invariants: a value that is not recorded gives *not assessed* with its key; a value that is assumed,
or carried and not confirmed, may break a rule but never prove it.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any

from ledger.contract.check import Check, Plan
from ledger.contract.evidence import Evidence
from ledger.model.audit import WHOLE_DELIVERY
from ledger.model.finding import Finding, Outcome
from ledger.model.process import Card
from lidar_checks.settings.chain import Chain, find_chains
from lidar_checks.settings.conditions import Answer, Values
from lidar_checks.settings.operands import Finder, Operand
from lidar_checks.settings.rules import Rule, list_rules

RULE_SOURCE = "common practice, no source"
_SHORT_DIGEST = 12

# Worst first: which of several flights of a run decides.
_WORST_FIRST = (
    Outcome.NONCONFORMING,
    Outcome.NOT_ASSESSED,
    Outcome.INCONCLUSIVE,
    Outcome.CONFORMS,
)


@dataclass(frozen=True)
class _Judgement:
    """What a rule says of one run and one flight."""

    outcome: Outcome
    sentence: str
    needs: tuple[str, ...] = ()
    observed: str = ""
    required: str = ""
    remedy: str = ""


@dataclass
class _Case:
    """One rule applied to one run and one flight: what was looked up so far."""

    rule: Rule
    chain: Chain
    flight: Card | None
    finder: Finder
    found: dict[str, Operand] = field(default_factory=dict)

    def look_up(self, keys: Iterable[str]) -> list[Operand]:
        """Return the operands of keys that are blank, and keep all."""
        for key in keys:
            self.found[key] = self.finder.find(key)
        return [self.found[key] for key in keys if self.found[key].known is None]

    def fill(self, text: str) -> str:
        """Return a sentence of the table with its values put in."""
        said = {
            "run": self.chain.run.id,
            "flight": self.flight.id if self.flight is not None else "the flight",
        }
        said |= {
            key: show_value(operand.known.value)
            for key, operand in self.found.items()
            if operand.known is not None
        }

        def keep(clause: re.Match[str]) -> str:
            return clause[1] if all(n in said for n in _PLACE.findall(clause[1])) else ""

        return _PLACE.sub(lambda place: said.get(place[1], "not recorded"), _CLAUSE.sub(keep, text))

    def is_proven(self) -> bool:
        """Say whether every value that was looked at may prove something."""
        return all(o.known.can_prove for o in self.found.values() if o.known is not None)


_PLACE = re.compile(r"\{([a-z_.]+)\}")
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


class SettingsCheck(Check):
    """A check whose id is a topic of the table of rules."""

    needs = ("records",)

    def finish(
        self, plan: Plan, summaries: Mapping[str, Any], evidence: Evidence
    ) -> Iterator[Finding]:
        """Judge every run behind the delivery by every rule of the topic."""
        del summaries
        chains = find_chains(evidence)
        if not chains:
            yield self.not_assessed(
                WHOLE_DELIVERY,
                "No accepted or undecided run stands behind these files.",
                ("records",),
            )
        for chain in chains:
            for rule in list_rules(self.id):
                if chain.delivers or not rule.last_run_only:
                    yield from self._judge_run(rule, chain, plan, evidence)

    def find_tolerance(self, plan: Plan) -> Decimal:
        """Return how far a lever arm may be off, metres; only one topic has a criterion for it."""
        del plan
        return Decimal(0)

    def _judge_run(
        self, rule: Rule, chain: Chain, plan: Plan, evidence: Evidence
    ) -> Iterator[Finding]:
        """Yield the finding of one rule about one run; none where the rule does not apply."""
        flights: tuple[Card | None, ...] = chain.flights or (None,)
        judged = [
            _judge(
                _Case(rule, chain, flight, Finder(chain, flight, evidence)),
                self.find_tolerance(plan),
            )
            for flight in flights
        ]
        said = [judgement for judgement in judged if judgement is not None]
        for outcome in _WORST_FIRST:
            worst = [judgement for judgement in said if judgement.outcome is outcome]
            if worst:
                yield self._tell(rule, chain, worst)
                return

    def _tell(self, rule: Rule, chain: Chain, judgements: list[_Judgement]) -> Finding:
        first = judgements[0]
        sentence = " ".join(dict.fromkeys(judgement.sentence for judgement in judgements))
        parts: dict[str, Any] = {"catalogue": rule.ids, "criterion_source": RULE_SOURCE}
        needs = tuple(dict.fromkeys(need for judgement in judgements for need in judgement.needs))
        if first.outcome is Outcome.CONFORMS:
            return self.conforms(chain.run.id, sentence, **parts)
        if first.outcome is Outcome.NOT_ASSESSED:
            return self.not_assessed(chain.run.id, sentence, needs, **parts)
        parts |= {"observed": first.observed, "required": first.required}
        if first.outcome is Outcome.INCONCLUSIVE:
            return self.inconclusive(
                chain.run.id, sentence, needs=needs, remedy=first.remedy, **parts
            )
        files = len(chain.files)
        reach = (
            f" {files} delivered file{'s come' if files != 1 else ' comes'} from {chain.run.id}."
        )
        return self.nonconforming(
            rule.grade, chain.run.id, sentence + reach, remedy=first.remedy, **parts
        )


def _judge(case: _Case, tolerance: Decimal) -> _Judgement | None:
    """Return what a rule says of one run and one flight; None where it does not apply."""
    rule = case.rule
    for condition, wanted in ((rule.when, True), (rule.unless, False)):
        if condition is None:
            continue
        key, values = condition
        blank = case.look_up((key,))
        if blank:
            return _tell_blank(blank)
        if (_fold(case.found[key]) in values) is not wanted:
            return None
    blank = case.look_up(rule.operands)
    if blank:
        return _tell_blank(blank)
    open_keys = case.look_up(rule.completing)
    case.look_up(rule.optional)
    by_key = {key: o.known.value for key, o in case.found.items() if o.known is not None}
    return _conclude(case, rule.holds(Values(by_key, tolerance)), open_keys)


def _conclude(case: _Case, answer: Answer, open_keys: list[Operand]) -> _Judgement:
    rule = case.rule
    known = [case.found[key].known for key in rule.operands]
    shown = [show_value(value.value) for value in known if value is not None]
    parts: dict[str, Any] = {
        "observed": shown[-1],
        "required": shown[0] if len(shown) > 1 else "",
    }
    if answer is Answer.BROKEN:
        return _Judgement(
            Outcome.NONCONFORMING,
            case.fill(rule.broken),
            remedy=case.fill(rule.remedy),
            **parts,
        )
    if answer is Answer.UNCLEAR:
        sentence, remedy = case.fill(rule.unclear), "Write down what is not on record."
        needs = tuple(operand.key for operand in open_keys)
        return _Judgement(Outcome.INCONCLUSIVE, sentence, needs, remedy=remedy, **parts)
    doubts = _list_doubts(case, open_keys)
    if doubts:
        return _Judgement(
            Outcome.INCONCLUSIVE,
            f"{case.fill(rule.right)} But {'; '.join(doubts)}.",
            tuple(operand.key for operand in open_keys),
            remedy="Confirm or write down what is missing.",
            **parts,
        )
    return _Judgement(Outcome.CONFORMS, case.fill(rule.right))


def _list_doubts(case: _Case, open_keys: list[Operand]) -> list[str]:
    """Return why a rule that holds proves nothing: values missing, assumed or not confirmed."""
    doubts = [f"{operand.key} of {operand.owner} is not recorded" for operand in open_keys]
    return doubts + [
        f"{operand.key} of {operand.owner} is {operand.known.known_by}"
        f"{'' if operand.known.confirmed else ' and not confirmed'}"
        for operand in case.found.values()
        if operand.known is not None and not operand.known.can_prove
    ]


def _tell_blank(blank: list[Operand]) -> _Judgement:
    told = "; ".join(dict.fromkeys(operand.describe_blank() for operand in blank))
    needs = tuple(dict.fromkeys(operand.key for operand in blank))
    return _Judgement(Outcome.NOT_ASSESSED, f"{told}.", needs)


def _fold(operand: Operand) -> str:
    return str(operand.known.value).strip().casefold() if operand.known is not None else ""
