"""One rule applied to one process and one of its flights."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import field
from decimal import Decimal
from typing import Any

from ledger.dataclass import dataclass
from ledger.model.finding import Outcome
from ledger.model.known import KnownValue
from ledger.model.process import Card, Process
from lidar_checks.settings.chain import Chain
from lidar_checks.settings.conditions import Answer, Values
from lidar_checks.settings.operand import Operand
from lidar_checks.settings.operands import Finder
from lidar_checks.settings.remedies import (
    list_settling_keys,
    tell_how_to_complete,
    tell_to_name_flight,
    tell_to_say,
)
from lidar_checks.settings.rule import Rule
from lidar_checks.settings.wording import Words

_VERTICAL = "specification.coordinates.vertical"
_OF_FLIGHT = ("flight.", "rig.")
_SOURCE = "source."
_LIMIT = "limit."
_WANTED = {"orthometric": "applied once from receiver to output", "ellipsoidal": "never applied"}


@dataclass(frozen=True)
class Judgement:
    """What a rule says of one process and one flight."""

    outcome: Outcome
    sentence: str
    needs: tuple[str, ...] = ()
    observed: str = ""
    required: str = ""
    remedy: str = ""


@dataclass
class Case:
    """One rule applied to one process and one flight: what was looked up so far."""

    rule: Rule
    chain: Chain
    flight: Card | None
    finder: Finder
    limits: Mapping[str, Decimal]
    found: dict[str, Operand] = field(default_factory=dict)

    def look_up(self, keys: Iterable[str]) -> list[Operand]:
        """Return the operands of keys that are blank, and keep all."""
        for key in keys:
            self.found[key] = self._find(key)
        return [self.found[key] for key in keys if self.found[key].known is None]

    def _find(self, key: str) -> Operand:
        if not key.startswith(_LIMIT):
            return self.finder.find(key)
        name = key.removeprefix(_LIMIT)
        limit = self.limits.get(name)
        known = None if limit is None else KnownValue(str(limit))
        return Operand(f"criteria.{self.rule.topic}.{name}", "job.toml", known)

    def read(self) -> Values:
        """Return the values of the operands that are recorded."""
        known = {key: operand.known for key, operand in self.found.items()}
        values = {key: value.value for key, value in known.items() if value is not None}
        tolerance = self.limits.get("tolerance_m", Decimal(0))
        return Values(values, tolerance, self.limits)

    def is_assumed(self, operand: Operand) -> bool:
        """Say whether an operand belongs to a flight that nobody named as the run's."""
        assumed = self.flight is not None and self.flight.id in self.chain.flights.assumed
        return assumed and operand.key.startswith(_OF_FLIGHT)

    def fill(self, text: str) -> str:
        """Return a sentence of the table with its values put in."""
        names = {
            "run": self.chain.process.id,
            "flight": self.flight.id if self.flight is not None else "the flight",
            "tolerance": f"{_show_number(self.limits.get('tolerance_m', Decimal(0)))} m",
            "wanted": _WANTED.get(self.read().text(_VERTICAL), ""),
        }
        names |= {f"limit.{name}": _show_number(each) for name, each in self.limits.items()}
        return Words(names, self.found).fill(text)


def judge(case: Case) -> Judgement | None:
    """Return what a rule says of one process and one flight; None where it does not apply."""
    rule = case.rule
    for condition, wanted in ((rule.when, True), (rule.unless, False)):
        if condition is None:
            continue
        key, values = condition
        blank = case.look_up((key,))
        if blank:
            return _tell_blank(case, blank)
        if (_fold(case.found[key]) in values) is not wanted:
            return None
    if rule.where_known and len(case.look_up(rule.where_known)) == len(rule.where_known):
        return None
    blank = case.look_up(rule.operands)
    if blank:
        return _tell_blank(case, blank)
    open_keys = case.look_up(rule.completing)
    case.look_up(rule.optional)
    return _conclude(case, rule.holds(case.read()), open_keys)


def _conclude(case: Case, answer: Answer, open_keys: list[Operand]) -> Judgement:
    rule = case.rule
    parts: dict[str, Any] = {
        "observed": case.fill(rule.found),
        "required": case.fill(rule.expected),
    }
    silent = _list_silent(case)
    about_silent = _describe_silent(silent, case.chain.about)
    if answer is Answer.BROKEN:
        sentence = " ".join([case.fill(rule.broken), *about_silent])
        return Judgement(Outcome.NONCONFORMING, sentence, remedy=case.fill(rule.remedy), **parts)
    needs = tuple(operand.key for operand in open_keys) + list_settling_keys(
        silent, case.chain.about
    )
    doubtful = [*open_keys, *_list_unproven(case)]
    if answer is Answer.UNCLEAR:
        sentence = " ".join([case.fill(rule.unclear), *about_silent])
    elif doubtful or silent:
        told = "; ".join(_list_doubts(case, doubtful))
        but = [f"But {told}."] if told else []
        sentence = " ".join([case.fill(rule.right), *but, *about_silent])
    else:
        return Judgement(Outcome.CONFORMS, case.fill(rule.right))
    remedy = _tell_what_to_do(case, doubtful, silent)
    return Judgement(Outcome.INCONCLUSIVE, sentence, needs, remedy=remedy, **parts)


def _list_unproven(case: Case) -> list[Operand]:
    """Return the operands that are assumed, not confirmed, or of a flight that nobody named."""
    return [
        operand
        for operand in case.found.values()
        if operand.known is not None and (not operand.known.can_prove or case.is_assumed(operand))
    ]


def _list_doubts(case: Case, doubtful: list[Operand]) -> list[str]:
    """Return why operands prove nothing, each reason once."""
    flight, process = case.flight, case.chain.process
    unnamed = f"nobody said that {process.id} was made from {flight.id if flight else 'it'}"
    told = (
        unnamed if case.is_assumed(operand) else _describe_doubt(operand) for operand in doubtful
    )
    return list(dict.fromkeys(told))


def _describe_doubt(operand: Operand) -> str:
    if operand.known is None:
        if operand.absent:
            return f"{operand.key} is not recorded, for {operand.absent}"
        return f"{operand.key} of {operand.owner} is not recorded"
    if operand.doubt:
        return operand.doubt
    confirmed = "" if operand.known.confirmed else " and not confirmed"
    return f"{operand.key} of {operand.owner} is {operand.known.known_by}{confirmed}"


def _tell_what_to_do(case: Case, doubtful: list[Operand], silent: list[Process]) -> str:
    if silent and not doubtful:
        return tell_to_say(silent[0], case.chain.about)
    if any(case.is_assumed(operand) for operand in doubtful):
        return tell_to_name_flight(case.chain.process)
    return tell_how_to_complete(doubtful or case.found.values(), case.chain.process)


def _list_silent(case: Case) -> list[Process]:
    """Return what was done on the way and does not say what it did to heights, each once."""
    silent = [
        *(case.chain.silent_before if case.rule.looks_at(_SOURCE) else ()),
        *(case.chain.silent_after if case.rule.last_only else ()),
    ]
    return list({process.id: process for process in silent}.values())


def _describe_silent(silent: list[Process], about: str) -> list[str]:
    names = " and ".join(process.id for process in silent)
    if not names:
        return []
    return [f"What {names} did to these {about}, if anything, is not on record."]


def _tell_blank(case: Case, blank: list[Operand]) -> Judgement:
    told = "; ".join(dict.fromkeys(operand.describe_blank() for operand in blank))
    needs = tuple(dict.fromkeys(operand.key for operand in blank))
    remedy = tell_how_to_complete(blank, case.chain.process)
    return Judgement(Outcome.NOT_ASSESSED, f"{told}.", needs, remedy=remedy)


def _show_number(number: Decimal) -> str:
    return f"{number.normalize():f}"


def _fold(operand: Operand) -> str:
    return str(operand.known.value).strip().casefold() if operand.known is not None else ""
