"""A diagnosis as findings: sentence, grade, one thing to do."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from pathlib import PurePosixPath
from typing import Any

from ledger.contract.check import Evidence, Figure, Finding, Grade, Plan, Where
from ledger.model.audit import WHOLE_DELIVERY
from ledger.model.surveypoints import CHECKPOINTS
from lidar_checks.cloud.criterion_source import name_sources
from lidar_checks.ground.causes import telling, telling_turned
from lidar_checks.ground.causes.candidate import Reading
from lidar_checks.ground.causes.comparison import Comparison
from lidar_checks.ground.causes.diagnosis import Diagnosis, Verdict
from lidar_checks.ground.causes.observed import Observed
from lidar_checks.ground.causes.turning_match import TurningMatch
from lidar_checks.ground.placing import list_unproven
from lidar_checks.ground.residuals import GroundCheck

ACCURACY = "vertical-accuracy"
"""The check whose limit of heights counts here."""

_ELLIPSOIDAL = "geoid-plus"


class Findings:
    """Turns one diagnosis into findings."""

    def __init__(
        self,
        check: GroundCheck,
        plan: Plan,
        evidence: Evidence,
        observed: Observed,
        limit_m: float,
    ) -> None:
        """Take the check that tells them, and what the root mean square may be, metres."""
        self.check = check
        self.plan = plan
        self.evidence = evidence
        self.observed = observed
        self.limit_m = limit_m

    def tell(self, found: Diagnosis) -> Iterator[Finding | Figure]:
        """Yield the findings of a whole diagnosis."""
        if found.verdict is Verdict.PARTS:
            for part, answer in found.parts:
                if answer.verdict is not Verdict.NO_OFFSET:
                    yield from self._tell_part(part, answer)
            return
        if found.verdict is not Verdict.TURNED:
            yield self._tell_whole(found, WHOLE_DELIVERY)
        yield from self._tell_patterns(found)
        yield from self._tell_turning(found)
        yield from self._tell_blind(found)
        if found.verdict not in (Verdict.NO_OFFSET, Verdict.TOO_FEW):
            yield from telling.make_figures(found)
        elif found.verdict is Verdict.NO_OFFSET:
            # A tilt about the middle of the site leaves the mean where it was.
            yield from telling.make_changes(found)

    def _tell_part(self, part: Observed, found: Diagnosis) -> Iterator[Finding | Figure]:
        """Yield the finding about some of the points, at the files that they lie in."""
        files = sorted({file for near in part.files for file in near})
        names = ", ".join(part.ids)
        where = ", ".join(PurePosixPath(file).name for file in files)
        told = f" Only {names} lie so, of {self.observed.count} checkpoints"
        subject = files[0] if len(files) == 1 else WHOLE_DELIVERY
        yield self._tell_whole(found, subject, f"{told}, in {where}." if where else f"{told}.")
        yield from telling.make_figures(found)

    def _tell_whole(self, found: Diagnosis, subject: str, more: str = "") -> Finding:
        outliers = telling.tell_outliers(found.outliers)
        outliers += telling_turned.tell_without(found.named_turning)
        if found.verdict is Verdict.TOO_FEW:
            sentence = telling.tell_few(len(found.ids))
            return self.check.inconclusive(subject, sentence)
        if found.verdict is Verdict.NO_OFFSET:
            return self._tell_clean(found, outliers)
        if found.verdict is Verdict.NO_POWER:
            sentence = telling.tell_no_power(found) + outliers
            return self.check.inconclusive(subject, sentence, **self._parts(found))
        if found.verdict is Verdict.UNEXPLAINED:
            return self._tell_unexplained(found, subject, more + outliers)
        return self._tell_fitting(found, subject, more, outliers)

    def _tell_fitting(self, found: Diagnosis, subject: str, more: str, outliers: str) -> Finding:
        """Return the finding of a cause that is named, or of some that may be it."""
        if found.verdict is Verdict.NAMED:
            sentence, remedy = telling.tell_named(found), ""
            matches = [*found.named]
        elif found.verdict is Verdict.POSSIBLE:
            sentence, remedy = telling.tell_possible(found), telling.tell_one_separation(found)
            matches = [*found.tied]
        else:
            sentence, remedy = telling.tell_tied(found), telling.tell_separation(found)
            matches = [*found.tied, *(m for pair in found.pairs for m in (pair.lead, pair.second))]
        readings = [each for c in _list_candidates(matches) for each in c.readings]
        sentence += f"{more}{outliers}"
        if found.verdict is Verdict.TIED:
            sentence += self._tell_contradictions(readings)
        return self._tell_wrong(found, subject, sentence, readings, remedy)

    def _tell_clean(self, found: Diagnosis, outliers: str) -> Finding:
        sentence = telling.tell_no_offset(found) + outliers
        doubtful = {
            table.path: names
            for table in self.evidence.tables
            if table.kind == CHECKPOINTS and (names := list_unproven(table))
        }
        parts = self._parts(found)
        if doubtful:
            path, names = next(iter(doubtful.items()))
            told = f" But {path} declares {', '.join(names)} only by assumption or from before."
            return self.check.inconclusive(WHOLE_DELIVERY, sentence + told, **parts)
        return self.check.conforms(WHOLE_DELIVERY, sentence, **parts)

    def _tell_wrong(
        self,
        found: Diagnosis,
        subject: str,
        sentence: str,
        readings: list[Reading],
        remedy: str = "",
    ) -> Finding:
        catalogue = tuple(dict.fromkeys(name for each in readings for name in each.catalogue))
        return self.check.nonconforming(
            Grade.MAJOR if self._breaks(found) else Grade.MINOR,
            subject,
            sentence,
            remedy=remedy or readings[0].remedy,
            catalogue=catalogue,
            where=self._find_where(subject),
            **self._parts(found),
        )

    def _tell_unexplained(self, found: Diagnosis, subject: str, more: str) -> Finding:
        return self.check.nonconforming(
            Grade.MINOR if self._breaks(found) else Grade.OBSERVATION,
            subject,
            telling.tell_unexplained(found) + more,
            remedy="Measure one mark whose coordinates are published with the base that was used, "
            "and compare.",
            catalogue=("GN-01", "VD-10"),
            where=self._find_where(subject),
            **self._parts(found),
        )

    def _tell_patterns(self, found: Diagnosis) -> Iterator[Finding]:
        for match in found.named_patterns:
            readings = match.pattern.readings
            axis = match.components[0]
            yield self.check.nonconforming(
                Grade.MINOR,
                WHOLE_DELIVERY,
                telling.tell_pattern(match),
                observed=f"{axis.observed:.4g}",
                required="0",
                unit=match.pattern.unit,
                remedy=readings[0].remedy,
                catalogue=readings[0].catalogue,
            )

    def _tell_turning(self, found: Diagnosis) -> Iterator[Finding | Figure]:
        """Yield what turns with the aircraft, and how much of it would show here."""
        turned = found.turned
        if turned:
            yield self._tell_turned(turned)
            return
        blind = [e for e in found.turning if e.turning.value is not None and not e.has_power]
        if blind:
            ids = (n for each in blind for r in each.turning.readings for n in r.catalogue)
            yield self.check.inconclusive(
                WHOLE_DELIVERY,
                telling_turned.tell_turning_blind(blind),
                catalogue=tuple(dict.fromkeys(ids)),
            )
        if found.turning:
            yield telling_turned.make_turning_figure(found.turning, len(found.ids))

    def _tell_turned(self, turned: Sequence[TurningMatch]) -> Finding:
        """Return what fits; where it is little more than chance, that nothing can be told."""
        ids = (n for each in turned for r in each.turning.readings for n in r.catalogue)
        catalogue = tuple(dict.fromkeys(ids))
        sentence = telling_turned.tell_turned(turned)
        if not any(each.has_power for each in turned):
            return self.check.inconclusive(WHOLE_DELIVERY, sentence, catalogue=catalogue)
        first = turned[0]
        return self.check.nonconforming(
            Grade.MINOR,
            WHOLE_DELIVERY,
            sentence,
            observed=f"{first.value / first.turning.per_unit:.3g}",
            required="0",
            unit=first.turning.unit,
            remedy=telling_turned.tell_separation(turned),
            catalogue=catalogue,
        )

    def _tell_blind(self, found: Diagnosis) -> Iterator[Finding]:
        """Say which harmful mistakes this site cannot show, where nothing else was found."""
        if found.verdict not in (Verdict.NO_OFFSET, Verdict.UNEXPLAINED):
            return
        blind = [
            each
            for each in found.blind
            if each.candidate is not None
            and (each.candidate.id == _ELLIPSOIDAL or abs(each.height.predicted) > self.limit_m)
        ]
        if blind:
            listed = [each for match in _list_candidates(blind) for each in match.readings]
            catalogue = tuple(dict.fromkeys(name for each in listed for name in each.catalogue))
            yield self.check.inconclusive(
                WHOLE_DELIVERY, telling.tell_blind(blind), catalogue=catalogue
            )

    def _tell_contradictions(self, readings: Iterable[Reading]) -> str:
        """Say which of the readings the recorded settings speak for; that decides nothing."""
        for reading in readings:
            for topic in reading.topics:
                bad = [
                    each for each in self.evidence.results.get(topic, ()) if each.grade is not None
                ]
                if bad:
                    return (
                        f" The recorded settings contradict each other about it ({topic}), which "
                        f"speaks for this: {reading.clause}."
                    )
        return ""

    def _breaks(self, found: Diagnosis) -> bool:
        """Say whether the residuals break what is asked of heights."""
        if any(each.grade is Grade.MAJOR for each in self.evidence.results.get(ACCURACY, ())):
            return True
        raw = found.raw
        if raw is None:
            return False
        plan = [
            abs(axis.observed) for axis in raw.components[:-1] if abs(axis.observed) > axis.gate
        ]
        return max(raw.rest.rmse, *plan, 0.0) > self.limit_m

    def _parts(self, found: Diagnosis) -> dict[str, Any]:
        mean = 0.0 if found.statistics is None else found.statistics.mean
        return {
            "observed": f"{mean:.3f}",
            "required": f"within {self.limit_m:g}",
            "unit": "m",
            "criterion_source": name_sources(self.plan, "offset_min_m", "rmse_max_m"),
        }

    def _find_where(self, subject: str) -> Where:
        return Where() if subject == WHOLE_DELIVERY else Where(file=subject)


def _list_candidates(matches: Iterable[Comparison]) -> list[Any]:
    return [each.candidate for each in matches if each.candidate is not None]
