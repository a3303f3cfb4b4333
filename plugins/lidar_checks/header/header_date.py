"""Does the header say when the file was made, and can that be true.

A clock that was never set writes a default date, and week seconds without a week belong to any
week. A date after the flight proves nothing: files are exported again months later.
"""

from __future__ import annotations

import calendar
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta

from pydantic import Field

from ledger.contract.check import Criteria, Plan
from ledger.contract.evidence import DeliveredFile, Evidence
from ledger.model.finding import Finding, Grade, Where
from ledger.model.header import LasHeader
from lidar_checks.header.file_check import LAS_SOURCE, FileCheck, name_source, require_criteria

_CREATION = f"{LAS_SOURCE}, public header block, file creation day of year and year"
_TIME = f"{LAS_SOURCE}, global encoding, bit 0"
_TAKEOFF = "flight.takeoff"
_OFFSET_BIT = 64

# When a version was approved: LAS 1.4 in November 2011 (its title page), LAS 1.5 in August 2025.
_PUBLISHED = {"1.4": date(2011, 11, 1), "1.5": date(2025, 8, 1)}


class HeaderDateCriteria(Criteria):
    """How far a clock may be off."""

    days_before_flight_max: float = Field(
        default=1.0,
        ge=0,
        description="common practice, no source: the header counts days of Greenwich, a form may "
        "count those of the place",
    )


class HeaderDate(FileCheck):
    """Dates in the header can be true, and week seconds have a week."""

    id = "header-date"
    title = "Dates of headers can be true, and seconds of a week have their week"
    catalogue = ("GN-13",)
    fields = (_TAKEOFF,)
    criteria = HeaderDateCriteria
    rests_on = (
        "creation_day",
        "creation_year",
        "version",
        "point_format",
        "global_encoding",
        "has_points",
    )

    def judge(
        self, file: DeliveredFile, header: LasHeader, plan: Plan, evidence: Evidence
    ) -> Iterator[Finding]:
        """Return what date and time flag of one file are worth."""
        days = require_criteria(plan, HeaderDateCriteria).days_before_flight_max
        flown = list_flight_days(evidence)
        found = [
            *self._judge_date(file, header, flown, days, plan),
            *self._judge_week(file, header, flown),
        ]
        yield from found
        if not found:
            told = find_creation(header)
            yield self.conforms(
                file.path,
                f"{file.path} was created on {told}, by its header.",
                where=Where(file.path),
            )

    def _judge_date(
        self,
        file: DeliveredFile,
        header: LasHeader,
        flown: tuple[date, ...],
        days: float,
        plan: Plan,
    ) -> Iterator[Finding]:
        made, published = find_creation(header), _PUBLISHED.get(header.version)
        stated = f"day {header.creation_day} of {header.creation_year}"
        if not header.creation_day and not header.creation_year:
            yield self._tell(file, "its header does not say when it was created", "", _CREATION)
        elif made is None:
            yield self._tell(
                file, f"its header says that it was created on {stated}", stated, _CREATION
            )
        elif published is not None and made < published:
            told = (
                f"it says that it was created on {made}, before there was LAS {header.version}: "
                "the clock was never set"
            )
            yield self._tell(
                file, told, str(made), f"{_CREATION}; LAS {header.version} is of {published:%B %Y}"
            )
        elif flown and made < min(flown) - timedelta(days=days):
            told = f"it says that it was created on {made}, before the first flight on {min(flown)}"
            source = name_source(plan, "days_before_flight_max")
            yield self._tell(file, told, str(made), source)

    def _judge_week(
        self, file: DeliveredFile, header: LasHeader, flown: tuple[date, ...]
    ) -> Iterator[Finding]:
        timed = header.has_gps_time and header.has_points
        if not timed or header.has_adjusted_time or header.global_encoding & _OFFSET_BIT or flown:
            return
        yield self.nonconforming(
            Grade.OBSERVATION,
            file.path,
            f"{file.path} declares GPS seconds of the week, and neither its header nor a flight "
            "says of which week.",
            observed="seconds of the week",
            criterion_source=_TIME,
            remedy=f"Record when it was flown ({_TAKEOFF}), or export with adjusted standard time.",
            catalogue=("GN-13", "FT-06"),
            where=Where(file.path),
        )

    def _tell(self, file: DeliveredFile, told: str, observed: str, source: str) -> Finding:
        return self.nonconforming(
            Grade.OBSERVATION,
            file.path,
            f"{file.path}: {told}.",
            observed=observed or "no date",
            criterion_source=source,
            remedy="Look at the clocks of scanner and computer before times are joined.",
            where=Where(file.path),
        )


def find_creation(header: LasHeader) -> date | None:
    """Return the day on which a file was created; None where the header states no possible one."""
    year, day = header.creation_year, header.creation_day
    if not 1 <= year <= 9999 or not 1 <= day <= 365 + calendar.isleap(year):
        return None
    return date(year, 1, 1) + timedelta(days=day - 1)


def list_flight_days(evidence: Evidence) -> tuple[date, ...]:
    """Return the days of Greenwich on which the flights took off, as far as recorded."""
    days = []
    for flight in evidence.flights:
        known = flight.values.get(_TAKEOFF)
        if known is None:
            continue
        try:
            moment = datetime.fromisoformat(str(known.value))
        except ValueError:
            continue
        days.append((moment.astimezone(UTC) if moment.tzinfo else moment).date())
    return tuple(days)
