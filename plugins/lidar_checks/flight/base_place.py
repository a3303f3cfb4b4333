"""The base stood near the site: a log of another job, or a station too far away, shows here.

The approximate position in the header of an observation file is good to some metres or some tens of
metres, which is enough for a distance in kilometres.
"""

from __future__ import annotations

from collections.abc import Iterator

from pydantic import Field

from ledger.contract.check import Criteria, Evidence, Finding, Grade, Plan
from ledger.expected.earth import measure_distance_m, to_geodetic
from ledger.model.fieldlogs import BaseLog
from ledger.model.process import Card
from lidar_checks.flight.flight_check import PRACTICE, FlightCheck, name_file, name_subject
from lidar_checks.header.file_check import name_source, require_criteria
from lidar_checks.header.middle import find_site

_GSI = "Geospatial Information Authority of Japan, survey work regulations 2025, art. 454"


class BasePlaceCriteria(Criteria):
    """How far the base may be from the site."""

    tell_km: float = Field(default=10.0, gt=0, description=PRACTICE)
    max_km: float = Field(default=50.0, gt=0, description=_GSI)


class BasePlace(FlightCheck):
    """Measures the distance from the base to the delivered points."""

    id = "base-place"
    title = "The base stood near the site"
    catalogue = ("GN-08", "GN-09")
    needs = ("headers",)
    criteria = BasePlaceCriteria

    def judge(self, card: Card, plan: Plan, evidence: Evidence) -> Iterator[Finding]:
        """Judge every base log of a flight."""
        logs = evidence.logs.list_bases(card.id)
        if not logs:
            yield self.tell_absent(card, "base-log", "base log")
        site = find_site(evidence)
        for log in logs:
            yield self._judge_log(card, log, site, plan)

    def _judge_log(
        self, card: Card, log: BaseLog, site: tuple[float, float] | None, plan: Plan
    ) -> Finding:
        name, subject = name_file(log), name_subject(card, log)
        if log.position_m is None:
            return self.not_assessed(
                subject, f"{name} states no position.", needs=("base-log: APPROX POSITION XYZ",)
            )
        base = to_geodetic(*(float(part) for part in log.position_m))
        if abs(base[2]) > _HIGHEST_M:
            return self.inconclusive(
                subject,
                f"The position in {name} lies {base[2] / 1000:,.0f} km from the ellipsoid, which "
                "is no place on the ground.",
            )
        if site is None:
            return self.not_assessed(
                subject,
                f"Where the delivered points lie on the earth is not known, so {name} cannot be "
                "held against it.",
                needs=("specification.coordinates.horizontal",),
            )
        criteria = require_criteria(plan, BasePlaceCriteria)
        km = measure_distance_m(base[:2], site) / 1000
        told = f"The base of {name}{f' ({log.marker})' if log.marker else ''} stood {km:,.1f} km"
        parts = {"observed": f"{km:.1f}", "unit": "km"}
        if km > criteria.max_km:
            return self.nonconforming(
                Grade.MAJOR,
                subject,
                f"{told} from the delivered points (limit {criteria.max_km:g} km): it is the log "
                "of another job, or of a station too far away.",
                required=f"{criteria.max_km:g}",
                criterion_source=name_source(plan, "max_km"),
                remedy=f"Find the base log of {card.id}",
                **parts,
            )
        if km > criteria.tell_km:
            return self.nonconforming(
                Grade.OBSERVATION,
                subject,
                f"{told} from the delivered points, where a height is known to about "
                f"{0.015 + km * 1e-3:.3f} m at best (0.015 m and 1 mm a km).",
                required=f"{criteria.tell_km:g}",
                criterion_source=name_source(plan, "tell_km"),
                catalogue=("GN-09", "GN-08"),
                remedy="Look at the checkpoints with that in mind, or use a base near by",
                **parts,
            )
        return self.conforms(
            subject,
            f"{told} from the delivered points.",
            required=f"{criteria.tell_km:g}",
            criterion_source=name_source(plan, "tell_km"),
            **parts,
        )


# Between the Dead Sea and the highest summit, with something to spare.
_HIGHEST_M = 10_000.0
