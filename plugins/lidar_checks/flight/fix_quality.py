"""The receiver had a fixed solution while it flew the lines.

A float or single solution wanders by decimetres and comes back, so the lines flown meanwhile lie
off those beside them. Only time on lines counts: what happens in turns is not delivered.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray
from pydantic import Field

from ledger.contract.check import Criteria, Evidence, Finding, Grade, Plan, Where
from ledger.dataclass import dataclass
from ledger.model.fieldlogs import FIXED, FLOAT, Track
from ledger.model.phrases import count_things
from ledger.model.process import Card
from lidar_checks.flight.flight_check import (
    PRACTICE,
    FlightCheck,
    is_post_processed,
    list_position_logs,
    list_times,
    list_trajectories,
    name_file,
    name_subject,
    say_time,
)
from lidar_checks.flight.paths import (
    BROKEN_S,
    Line,
    Path,
    find_lines,
    find_spacing,
    make_path,
    mark_lines,
)
from lidar_checks.flight.tilesunder import name_tiles
from lidar_checks.header.file_check import name_source, require_criteria

_GGA = "NMEA 0183, GGA field 6"
_WORDS = {FLOAT: "float", 2: "differential", 1: "single", 0: "without a position"}


class FixQualityCriteria(Criteria):
    """How much of the lines may be flown without a fixed solution."""

    tell_share: float = Field(default=0.95, gt=0, le=1, description=PRACTICE)
    min_share: float = Field(default=0.90, gt=0, le=1, description=PRACTICE)
    max_gap_s: float = Field(default=10.0, gt=0, description=PRACTICE)
    major_gap_s: float = Field(default=30.0, gt=0, description=PRACTICE)


@dataclass(frozen=True)
class Stretch:
    """A time on one line without a fixed solution.

    Args:
        line: number of the line.
        begin_s: first epoch that is not fixed, GPS seconds.
        end_s: the next one that is, or the end of the line.
        word: what the solution was.
    """

    line: int
    begin_s: float
    end_s: float
    word: str

    @property
    def seconds(self) -> float:
        """Return its length."""
        return self.end_s - self.begin_s


@dataclass(frozen=True, eq=False)
class _Flown:
    """One log of a flight, with its lines."""

    card: Card
    track: Track
    path: Path
    lines: tuple[Line, ...]
    is_post_processed: bool

    @property
    def subject(self) -> str:
        return name_subject(self.card, self.track)


class FixQuality(FlightCheck):
    """Reads the fix quality of every epoch on a line."""

    id = "fix-quality"
    title = "The receiver had a fixed solution on the lines"
    catalogue = ("GN-03",)
    criteria = FixQualityCriteria
    fields = ("run.position_source",)

    def judge(self, card: Card, plan: Plan, evidence: Evidence) -> Iterator[Finding]:
        """Judge the logs of a flight that state a fix quality; receivers' own before tables."""
        tracks = (*list_position_logs(card, evidence), *list_trajectories(card, evidence))
        unread = [track for track in tracks if track.fault]
        stated = [track for track in tracks if track.quality_known is not None]
        own = [t for t in stated if t.quality_known is not None and t.quality_known.can_prove]
        for track in unread:
            yield self.tell_unread(card, track)
        if not stated and not unread:
            yield self.tell_absent(card, "flight-log", "log that states a fix quality")
        for track in own or stated:
            yield self._judge_track(card, track, plan, evidence)

    def _judge_track(self, card: Card, track: Track, plan: Plan, evidence: Evidence) -> Finding:
        path = make_path(track)
        lines = find_lines(path) if path is not None else ()
        if path is None or not lines:
            return self.inconclusive(
                name_subject(card, track),
                f"{name_file(track)} of {card.id} holds no straight line that was flown.",
            )
        flown = _Flown(card, track, path, lines, is_post_processed(card, evidence))
        limit = require_criteria(plan, FixQualityCriteria).max_gap_s
        stretches = list_stretches(path, lines)
        long = [each for each in stretches if each.seconds > limit]
        if long:
            return self._tell_stretches(flown, long, plan, evidence)
        longest = max((each.seconds for each in stretches), default=0.0)
        return self._tell_share(flown, longest, plan)

    def _tell_stretches(
        self, flown: _Flown, long: list[Stretch], plan: Plan, evidence: Evidence
    ) -> Finding:
        criteria = require_criteria(plan, FixQualityCriteria)
        worst = max(long, key=lambda each: each.seconds)
        grade, field = Grade.MINOR, "max_gap_s"
        if worst.seconds > criteria.major_gap_s:
            grade, field = Grade.MAJOR, "major_gap_s"
        limit = getattr(criteria, field)
        named = _name_lines(long)
        spans = [(each.begin_s, each.end_s) for each in long]
        tiles = name_tiles(evidence, flown.path, spans, (find_spacing(flown.lines) or 0.0) / 2)
        after = "; its positions were post-processed" if flown.is_post_processed else ""
        return self.nonconforming(
            Grade.OBSERVATION if flown.is_post_processed else grade,
            flown.subject,
            f"{named[0].upper()}{named[1:]} of {flown.card.id} had no fixed solution for up to "
            f"{worst.seconds:.0f} s ({worst.word}, {say_time(worst.begin_s)} to "
            f"{say_time(worst.end_s)}; limit {limit:g} s){tiles}{after}.",
            observed=f"{worst.seconds:.0f}",
            required=f"{limit:g}",
            unit="s",
            criterion_source=f"{_GGA}; {name_source(plan, field)}",
            remedy=f"Post-process {flown.card.id} with the base log, fly {named} again, or accept "
            "it once the overlap with the lines beside it fits",
            where=Where(
                time_span=list_times(long[0].begin_s, long[-1].end_s),
                strips=tuple(
                    f"line {number} of {flown.card.id}"
                    for number in sorted({each.line for each in long})
                ),
            ),
        )

    def _tell_share(self, flown: _Flown, longest: float, plan: Plan) -> Finding:
        criteria = require_criteria(plan, FixQualityCriteria)
        share = measure_share(flown.path, flown.lines)
        told = (
            f"{name_file(flown.track)}: {share:.1%} of the time on "
            f"{count_things(len(flown.lines), 'line')} of {flown.card.id} was fixed"
        )
        if longest:
            told += f", the longest stretch without {longest:.0f} s"
        if share < criteria.tell_share:
            is_low = share < criteria.min_share
            field = "min_share" if is_low else "tell_share"
            least = getattr(criteria, field)
            is_minor = is_low and not flown.is_post_processed
            return self.nonconforming(
                Grade.MINOR if is_minor else Grade.OBSERVATION,
                flown.subject,
                f"{told} (limit {least:.0%}).",
                observed=f"{share:.1%}",
                required=f"{least:.0%}",
                criterion_source=f"{_GGA}; {name_source(plan, field)}",
                remedy="Post-process with the base log, or look at the overlap of these lines with "
                "those beside them",
            )
        parts = {
            "observed": f"{share:.1%}",
            "required": f"{criteria.tell_share:.0%}",
            "criterion_source": _GGA,
        }
        known = flown.track.quality_known
        if known is None or not known.can_prove:
            column = "" if known is None else f" in its column {known.where}"
            return self.inconclusive(
                flown.subject, f"{told}, if the numbers{column} are those of a receiver.", **parts
            )
        return self.conforms(flown.subject, f"{told}.", **parts)


def _name_lines(stretches: list[Stretch]) -> str:
    numbers = sorted({each.line for each in stretches})
    named = ", ".join(map(str, numbers))
    return f"line {named}" if len(numbers) == 1 else f"lines {named}"


def measure_share(path: Path, lines: tuple[Line, ...]) -> float:
    """Return which share of the time on lines was fixed, 0 to 1.

    Each epoch stands for the time to the next one, where that is not broken off.
    """
    steps = np.diff(path.time_s, append=path.time_s[-1])
    weights = np.where(steps > BROKEN_S, 0.0, steps)
    weights = np.where(mark_lines(path.time_s, lines) > 0, weights, 0.0)
    total = float(weights.sum())
    return float(weights[path.quality == FIXED].sum()) / total if total else 0.0


def list_stretches(path: Path, lines: tuple[Line, ...]) -> list[Stretch]:
    """Return every time on a line without a fixed solution, in order."""
    numbers = mark_lines(path.time_s, lines)
    found = []
    for line in lines:
        at = np.flatnonzero(numbers == line.number)
        if not len(at):
            continue
        loose = path.quality[at] != FIXED
        edges = np.flatnonzero(np.diff(np.concatenate([[False], loose, [False]]).astype(int)))
        for low, high in zip(edges[::2], edges[1::2], strict=True):
            until = path.time_s[at[min(int(high), len(at) - 1)]]
            worst = _name_quality(path.quality[at[low:high]])
            found.append(Stretch(line.number, float(path.time_s[at[low]]), float(until), worst))
    return found


def _name_quality(codes: NDArray[np.int8]) -> str:
    values, counts = np.unique(codes, return_counts=True)
    return _WORDS.get(int(values[np.argmax(counts)]), "not fixed")
