"""Is there a known mistake behind a constant or a pattern in the residuals, and which one.

Every mistake that this job's own records allow to be worked out is predicted at the checkpoints
before the residuals are looked at; see `causes/`. The deliverable itself is never changed: what a
named cause would leave is worked out on the residuals alone.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from pathlib import PurePosixPath
from typing import Any, cast

import numpy as np
from pydantic import Field

from ledger.contract.check import Criteria, Evidence, Figure, Finding, Grade, Plan, Where
from ledger.model.audit import WHOLE_DELIVERY
from ledger.model.phrases import count_things
from ledger.model.surveypoints import CHECKPOINTS, VEGETATED
from lidar_checks.cloud.criterion_source import name_sources
from lidar_checks.ground.causes import telling
from lidar_checks.ground.causes.candidate import Reading
from lidar_checks.ground.causes.comparison import Comparison
from lidar_checks.ground.causes.diagnosis import Diagnosis, Verdict, diagnose
from lidar_checks.ground.causes.gather import gather
from lidar_checks.ground.causes.observed import Observed, collect
from lidar_checks.ground.causes.placement import ENOUGH, Box, find_placements
from lidar_checks.ground.causes.predict import predict
from lidar_checks.ground.placing import list_unproven
from lidar_checks.ground.residual_family import ResidualPlan
from lidar_checks.ground.residuals import GroundCheck, Residual, list_residuals
from lidar_checks.ground.strata import find_stratum

_PRACTICE = "common practice, no source"
_SETTINGS = ("base-chain", "base-height", "frame-chain", "height-chain", "lever-arm-chain")
_ACCURACY = "vertical-accuracy"
_ELLIPSOIDAL = "geoid-plus"


class NamedCauseCriteria(Criteria):
    """What counts as an offset, and what as a bad one.

    An offset that makes the root mean square larger than `rmse_max_m` is major when it has a name;
    where `criteria.vertical-accuracy` states its own limit, that one counts.
    """

    offset_min_m: float = Field(default=0.02, gt=0, description=_PRACTICE)
    rmse_max_m: float = Field(default=0.05, gt=0, description=_PRACTICE)


class NamedCause(GroundCheck):
    """No known mistake explains the residuals."""

    id = "named-cause"
    revision = 2
    title = "No known mistake explains the residuals"
    catalogue = (
        *("CR-01", "CR-02", "CR-03", "CR-04", "CR-07", "CR-08", "CR-09", "CR-12", "CR-13"),
        *("GN-01", "GN-02", "GN-06", "MB-02", "MB-03", "MB-04", "MB-09", "SL-08"),
        *("UN-01", "UN-02", "UN-03", "UN-04", "VD-01", "VD-02", "VD-03", "VD-04", "VD-05"),
        *("VD-07", "VD-09", "VD-10", "VD-11"),
    )
    specification_keys = (
        *GroundCheck.specification_keys,
        "coordinates.epoch",
        "coordinates.geoid.file",
    )
    fields = (
        "flight.base_antenna_offset",
        "flight.base_antenna_radius",
        "flight.base_frame",
        "flight.base_height",
        "flight.base_height_again",
        "flight.base_height_kind",
        "flight.base_mark",
        "flight.frame",
        "flight.position_source",
        "flight.rig",
        "flight.service_frame",
        "flight.takeoff",
        "rig.lever_arm_aircraft",
        "rig.lever_arm_convention",
        "rig.lever_arm_scanner",
        "run.crs",
        "run.frame",
        "run.geoid_file",
        "run.geoid_frame",
        "run.trajectory_crs",
        "step.frame",
        "step.geoid_frame",
    )
    criteria = NamedCauseCriteria
    after = (*_SETTINGS, _ACCURACY)
    explains = (_ACCURACY, "horizontal-accuracy", "checkpoint-outliers")

    def finish(
        self, plan: Plan, summaries: Mapping[str, Any], evidence: Evidence
    ) -> Iterable[Finding | Figure]:
        """Diagnose the checkpoints of the delivery together."""
        asked = cast("NamedCauseCriteria", plan.criteria)
        residuals = [
            each
            for each in list_residuals(plan, summaries)
            # In vegetation a cloud lies high by what it did not get through.
            if each.kind == CHECKPOINTS and find_stratum(each.stratum) != VEGETATED
        ]
        if not residuals:
            told = "No checkpoint outside vegetation was read."
            yield self.not_assessed(WHOLE_DELIVERY, told, (CHECKPOINTS,))
            return
        observed = collect(residuals)
        if not observed.count:
            yield self._tell_off_cloud(plan, residuals, evidence)
            return
        predictions = predict(gather(observed, evidence))
        found = diagnose(observed, predictions, asked.offset_min_m)
        report = _Report(self, plan, evidence, observed)
        yield from report.tell(found)

    def _tell_off_cloud(
        self, plan: Plan, residuals: Sequence[Residual], evidence: Evidence
    ) -> Finding:
        """Say why no checkpoint has a height, and what would bring them onto the cloud."""
        off = [each for each in residuals if each.is_off_cloud and each.is_placed]
        if not off or len(off) < ENOUGH * len(residuals) or evidence.specified_crs is None:
            return self._tell_none(residuals)
        east, north = (np.array([getattr(e, axis) for e in off]) for axis in ("east_m", "north_m"))
        boxes = _list_boxes(plan, evidence)
        found = find_placements(east, north, boxes, evidence.specified_crs)
        count = count_things(len(off), "checkpoint")
        if not found:
            return self.inconclusive(
                WHOLE_DELIVERY,
                f"The cloud has no point near any of {count}, and no known mistake would bring "
                "them onto it.",
            )
        told = " or ".join(each.reading.clause for each in found)
        either = "either " if len(found) > 1 else ""
        return self.nonconforming(
            Grade.MAJOR,
            WHOLE_DELIVERY,
            f"The cloud has no point near any of {count}; {found[0].inside} of them would lie on "
            f"it if {either}{told}.",
            observed=f"0 of {len(off)}",
            required=f"{len(off)} of {len(off)}",
            unit="checkpoints on the cloud",
            remedy=found[0].reading.remedy,
            catalogue=tuple(dict.fromkeys(n for each in found for n in each.reading.catalogue)),
        )

    def _tell_none(self, residuals: Sequence[Residual]) -> Finding:
        reasons = sorted({each.reason for each in residuals if each.reason})
        why = f": {reasons[0]}" if reasons else ""
        return self.not_assessed(
            WHOLE_DELIVERY, f"No checkpoint has a height of the cloud{why}.", ("residuals",)
        )


class _Report:
    """Turns one diagnosis into findings."""

    def __init__(
        self, check: NamedCause, plan: Plan, evidence: Evidence, observed: Observed
    ) -> None:
        self.check = check
        self.plan = plan
        self.evidence = evidence
        self.observed = observed
        self.limit_m = _find_limit(cast("NamedCauseCriteria", plan.criteria), evidence)

    def tell(self, found: Diagnosis) -> Iterator[Finding | Figure]:
        """Yield the findings of a whole diagnosis."""
        if found.verdict is Verdict.PARTS:
            for part, answer in found.parts:
                if answer.verdict is not Verdict.NO_OFFSET:
                    yield from self._tell_part(part, answer)
            return
        yield self._tell_whole(found, WHOLE_DELIVERY)
        yield from self._tell_patterns(found)
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
        if found.verdict is Verdict.TOO_FEW:
            sentence = telling.tell_few(len(found.ids))
            return self.check.inconclusive(subject, sentence)
        if found.verdict is Verdict.NO_OFFSET:
            return self._tell_clean(found, outliers)
        if found.verdict is Verdict.NO_POWER:
            sentence = telling.tell_no_power(found) + outliers
            return self.check.inconclusive(subject, sentence, **self._parts(found))
        if found.verdict is Verdict.NAMED:
            sentence = telling.tell_named(found) + more + outliers
            readings = [each.readings for each in _list_candidates(found.named)]
            return self._tell_wrong(found, subject, sentence, [r for rs in readings for r in rs])
        if found.verdict is Verdict.TIED:
            sentence = f"{telling.tell_tied(found)}{more}{outliers}"
            matches = [*found.tied, *(m for pair in found.pairs for m in (pair.lead, pair.second))]
            readings = [each.readings for each in _list_candidates(matches)]
            listed = [reading for each in readings for reading in each]
            sentence += self._tell_contradictions(listed)
            return self._tell_wrong(
                found, subject, sentence, listed, remedy=telling.tell_separation(found)
            )
        return self._tell_unexplained(found, subject, more + outliers)

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
        if any(each.grade is Grade.MAJOR for each in self.evidence.results.get(_ACCURACY, ())):
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


def _list_boxes(plan: Plan, evidence: Evidence) -> list[Box]:
    """Return west, south, east and north of the files that checkpoints are held against, metres."""
    units = cast("ResidualPlan", plan.family).units
    if units.common is None:
        return []
    size = float(units.common.metres)
    headers = (
        file.header
        for file in evidence.point_files
        if file.path in units.heights and file.header is not None
    )
    return [
        (
            size * header.minimum[0],
            size * header.minimum[1],
            size * header.maximum[0],
            size * header.maximum[1],
        )
        for header in headers
    ]


def _list_candidates(matches: Iterable[Comparison]) -> list[Any]:
    return [each.candidate for each in matches if each.candidate is not None]


def _find_limit(asked: NamedCauseCriteria, evidence: Evidence) -> float:
    """Return the limit of the root mean square: that of the accuracy where one is stated."""
    section = evidence.specification.criteria.get(_ACCURACY)
    stated = section.get("rmse_max_m") if isinstance(section, Mapping) else None
    return float(stated) if isinstance(stated, (int, float)) and stated > 0 else asked.rmse_max_m


__all__ = ["NamedCause", "NamedCauseCriteria"]
