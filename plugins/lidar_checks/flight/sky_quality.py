"""The sky was open: enough satellites, a good figure, fresh corrections, a small stated spread."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np
from pydantic import Field

from ledger.contract.check import Criteria, Finding, Grade, Plan
from ledger.model.artefact import Role
from ledger.model.fieldlogs import Series, Track
from ledger.model.process import Card
from lidar_checks.flight.flight_check import (
    PRACTICE,
    TrackCheck,
    name_file,
    name_subject,
)
from lidar_checks.flight.paths import Bools, find_lines, make_path, mark_lines
from lidar_checks.header.file_check import name_source, require_criteria

_GGA = "NMEA 0183, GGA, GSA and GST"


class SkyQualityCriteria(Criteria):
    """What the receiver has to say of its solution, but for a share of the time on lines."""

    min_satellites: int = Field(default=10, ge=0, description=PRACTICE)
    max_hdop: float = Field(default=2.0, gt=0, description=PRACTICE)
    max_pdop: float = Field(default=4.0, gt=0, description=PRACTICE)
    max_sigma_m: float = Field(
        default=0.05, gt=0, description=f"{PRACTICE}, for the height in GST sentences"
    )
    max_age_s: float = Field(default=5.0, gt=0, description=PRACTICE)
    max_share: float = Field(default=0.05, ge=0, lt=1, description=PRACTICE)


class SkyQuality(TrackCheck):
    """Counts the epochs on lines at which the receiver itself was not content."""

    id = "sky-quality"
    title = "Satellites, their figure and the corrections were good on the lines"
    catalogue = ("GN-10",)
    criteria = SkyQualityCriteria
    role = Role.FLIGHT_LOG
    what = "position log of a receiver"

    def judge_track(self, card: Card, track: Track, plan: Plan) -> Finding:
        """Judge one log."""
        name, subject = name_file(track), name_subject(card, track)
        path, series = make_path(track), track.series
        lines = find_lines(path) if path is not None else ()
        if series is None or not lines:
            return self.inconclusive(
                subject, f"{name} of {card.id} holds no straight line that was flown."
            )
        criteria = require_criteria(plan, SkyQualityCriteria)
        on_line = mark_lines(series.time_s, lines) > 0
        rows = list(_list_poor(series, on_line, criteria))
        if not rows:
            return self.not_assessed(
                subject,
                f"{name} states neither satellites nor how good their solution is.",
                needs=("flight-log: satellites, HDOP, age of corrections",),
            )
        field, share, words = max(rows, key=lambda row: row[1])
        parts: dict[str, Any] = {
            "observed": f"{share:.1%}",
            "required": f"{criteria.max_share:.0%}",
            "criterion_source": f"{_GGA}; {name_source(plan, field)}",
        }
        if share > criteria.max_share:
            return self.nonconforming(
                Grade.OBSERVATION,
                subject,
                f"{name}: {share:.1%} of the epochs on lines of {card.id} had {words} (limit "
                f"{criteria.max_share:.0%} of them).",
                remedy="Look at the heights of these lines against those beside them; fly at "
                "another time of day, and keep the base away from vehicles and walls",
                **parts,
            )
        looked = ", ".join(words for _, _, words in rows)
        return self.conforms(
            subject,
            f"{name}: at most {share:.1%} of the epochs on lines of {card.id} had one of these: "
            f"{looked}.",
            **parts,
        )


def _list_poor(
    series: Series, on_line: Bools, criteria: SkyQualityCriteria
) -> Iterator[tuple[str, float, str]]:
    """Yield criterion, share of epochs that do not meet it, and words, for what is stated."""
    looks = (
        (
            "min_satellites",
            series.satellites >= 0,
            series.satellites < criteria.min_satellites,
            f"fewer than {criteria.min_satellites} satellites",
        ),
        (
            "max_hdop",
            np.isfinite(series.hdop),
            series.hdop > criteria.max_hdop,
            f"an HDOP above {criteria.max_hdop:g}",
        ),
        (
            "max_pdop",
            np.isfinite(series.pdop),
            series.pdop > criteria.max_pdop,
            f"a PDOP above {criteria.max_pdop:g}",
        ),
        (
            "max_sigma_m",
            np.isfinite(series.sigma_m),
            series.sigma_m > criteria.max_sigma_m,
            f"a height that the receiver itself gave more than {criteria.max_sigma_m:g} m",
        ),
        (
            "max_age_s",
            np.isfinite(series.age_s),
            series.age_s > criteria.max_age_s,
            f"corrections older than {criteria.max_age_s:g} s",
        ),
    )
    for field, stated, poor, words in looks:
        counted = int(np.count_nonzero(on_line & stated))
        if counted:
            yield field, float(np.count_nonzero(on_line & stated & poor)) / counted, words
