"""What a swath check finds in a made flight."""

from __future__ import annotations

from typing import Any

import numpy as np
from made_flight import Flight, Shape

from ledger.contract.check import Finding, Grade
from lidar_checks.swath.swath_check import SwathCheck


def constant(rise: float) -> Shape:
    """Return the same rise everywhere."""
    return lambda x, _: np.full_like(x, rise)


def judge_flight(check: SwathCheck, flight: Flight, **criteria: Any) -> list[Finding]:
    """Return what one check finds in a made flight."""
    return list(flight.deliver().drive(check, criteria))


def list_grades(findings: list[Finding]) -> list[Grade]:
    """Return the grades of what is nonconforming."""
    return [finding.grade for finding in findings if finding.grade is not None]
