"""Deliveries of tiles for the check of their seams: rolling ground, and what is found in a site."""

from __future__ import annotations

from typing import Any

import numpy as np
from made_cloud import ORIGIN, Floats, Site

from ledger.contract.check import Finding, Grade
from lidar_checks.cloud.seams import Seams

EAST, NORTH = ORIGIN


def rolling(x: Floats, y: Floats) -> Floats:
    """Return the rolling ground of a borrow pit."""
    waves = 2.5 * np.sin((x - EAST) / 70) * np.cos((y - NORTH) / 55)
    return np.asarray(214 + 0.03 * (x - EAST) + waves)


def judge_seams(site: Site, **parts: Any) -> list[Finding]:
    """Return what the check finds in a site of metres."""
    return list(site.deliver().drive(Seams(), **parts))


def list_accused(findings: list[Finding]) -> list[str]:
    """Return the tiles with a major finding."""
    return [f.subject for f in findings if f.grade is Grade.MAJOR]
