"""One base for the whole job, or a tie between them: two bases leave a step between their lines."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from itertools import combinations
from typing import Any

import numpy as np
from pydantic import Field

from ledger.contract.check import Check, Criteria, Evidence, Finding, Grade, Plan
from ledger.expected.earth import to_geodetic
from ledger.model.audit import WHOLE_DELIVERY
from ledger.model.fieldlogs import Track
from ledger.model.phrases import count_things
from ledger.model.process import Card
from lidar_checks.flight.flight_check import (
    PRACTICE,
    list_position_logs,
    name_file,
    name_subject,
    say_time,
)
from lidar_checks.flight.paths import find_lines, make_path
from lidar_checks.header.file_check import name_source, require_criteria

_MARK, _METHOD = "flight.base_mark", "flight.base_method"
_MOVING = ("network", "satellite service")


class BaseChangeCriteria(Criteria):
    """When two positions are two bases."""

    apart_max_m: float = Field(
        default=10.0,
        gt=0,
        description=f"{PRACTICE}: what the approximate position of one base differs by from day "
        "to day",
    )


class BaseChange(Check):
    """Compares the bases of all flights, and the stations that corrections came from."""

    id = "base-change"
    title = "All lines were flown with one base"
    catalogue = ("GN-12",)
    criteria = BaseChangeCriteria
    fields = (_MARK, _METHOD, "flight.base_kind")

    def finish(
        self,
        plan: Plan,
        summaries: Mapping[str, Any],  # noqa: ARG002 - part of the contract
        evidence: Evidence,
    ) -> Iterable[Finding]:
        """Judge each flight by itself, then the flights together."""
        told = [each for card in evidence.flights for each in self._judge_stations(card, evidence)]
        yield from told
        if len(evidence.flights) > 1:
            yield self._compare(plan, evidence)
        elif not told:
            yield self.not_assessed(
                WHOLE_DELIVERY,
                "No log of the flight says which station its corrections came from.",
                needs=("flight-log",),
            )

    def _judge_stations(self, card: Card, evidence: Evidence) -> Iterator[Finding]:
        for track in list_position_logs(card, evidence):
            if track.stations:
                yield self._judge_track(card, track)

    def _judge_track(self, card: Card, track: Track) -> Finding:
        name, subject = name_file(track), name_subject(card, track)
        used = _list_used(track)
        kind = card.values.get("flight.base_kind")
        if len({station for _, station in used}) < 2:
            return self.conforms(
                subject,
                f"{name}: every line of {card.id} had its corrections from station {used[0][1]}."
                if used
                else f"{name}: no line of {card.id} has corrections from a second station.",
            )
        if kind is not None and kind.value in _MOVING:
            return self.inconclusive(
                subject,
                f"{name}: the station of the corrections changed while {card.id} was flown, as it "
                f"may with a {kind.value}.",
            )
        at, station = used[1]
        return self.nonconforming(
            Grade.MINOR,
            subject,
            f"{name}: from {say_time(at)} on, the corrections of {card.id} came from station "
            f"{station}, before from {used[0][1]}: the lines before and after may lie apart.",
            observed=f"{len({station for _, station in used})} stations",
            required="1 station",
            criterion_source=PRACTICE,
            remedy="See how the two stations are tied to each other, and compare the overlap of "
            "the lines before and after",
        )

    def _compare(self, plan: Plan, evidence: Evidence) -> Finding:
        criteria = require_criteria(plan, BaseChangeCriteria)
        flights = {card.id: card for card in evidence.flights}
        marks = {
            name: str(card.values[_MARK].value)
            for name, card in flights.items()
            if _MARK in card.values
        }
        places = {name: place for name in flights if (place := _find_base(name, evidence))}
        for first, second in combinations(flights, 2):
            apart = None
            if first in places and second in places:
                apart = float(np.linalg.norm(np.subtract(places[first], places[second])))
            other = first in marks and second in marks and marks[first] != marks[second]
            if other or (apart is not None and apart > criteria.apart_max_m):
                tied = all(_is_tied(flights[name]) for name in (first, second))
                return self._tell_two(plan, (first, second), (marks, apart), is_tied=tied)
        known = {name for name in flights if name in marks or name in places}
        if known != set(flights):
            return self.not_assessed(
                WHOLE_DELIVERY,
                "Which base each flight had is not on record.",
                needs=(_MARK, "base-log"),
            )
        return self.conforms(
            WHOLE_DELIVERY, f"{count_things(len(flights), 'flight')} had one base."
        )

    def _tell_two(
        self,
        plan: Plan,
        pair: tuple[str, str],
        known: tuple[Mapping[str, str], float | None],
        *,
        is_tied: bool,
    ) -> Finding:
        (first, second), (marks, apart) = pair, known
        named = (
            f" ({marks[first]} and {marks[second]})"
            if marks.get(first, "") != marks.get(second, "") and {first, second} <= set(marks)
            else ""
        )
        far = "" if apart is None else f", {apart:,.0f} m apart by their logs"
        tied = ", each on known coordinates by its card" if is_tied else ""
        return self.nonconforming(
            Grade.OBSERVATION if is_tied else Grade.MINOR,
            f"{first} and {second}",
            f"{first} and {second} had different bases{named}{far}{tied}: where their coordinates "
            "do not fit each other, the lines of one flight lie off those of the other.",
            observed="2 bases",
            required="1 base",
            criterion_source=name_source(plan, "apart_max_m"),
            remedy="Tie the two bases to each other, and compare where the flights overlap",
        )


def _is_tied(card: Card) -> bool:
    """Say whether a base stood on coordinates that do not come from itself, and that is sure."""
    method = card.values.get(_METHOD)
    return method is not None and method.value != "averaged" and method.can_prove


def _find_base(flight: str, evidence: Evidence) -> tuple[float, float, float] | None:
    for log in evidence.logs.bases:
        if log.file.flight == flight and log.position_m is not None:
            x, y, z = (float(part) for part in log.position_m)
            return (x, y, z) if abs(to_geodetic(x, y, z)[2]) < 1e5 else None
    return None


def _list_used(track: Track) -> list[tuple[float, str]]:
    """Return the stations that were in use on lines, in order; of one after another each once."""
    path = make_path(track)
    lines = find_lines(path) if path is not None else ()
    ends = [at for at, _ in track.stations[1:]] + [np.inf]
    used: list[tuple[float, str]] = []
    for (at, station), end in zip(track.stations, ends, strict=True):
        if lines and not any(line.begin_s < end and line.end_s > at for line in lines):
            continue
        if not used or used[-1][1] != station:
            used.append((at, station))
    return used
