"""How far points lie off at the site when one frame is taken for another, in words with metres."""

from __future__ import annotations

from datetime import date

from ledger.contract.evidence import Evidence
from ledger.errors import SwathbookError
from ledger.expected import Place, find_frame_shift
from lidar_checks.header.middle import find_site
from lidar_checks.settings.conditions import Answer
from lidar_checks.settings.frames import clean_frame, compare_frames

_DAY = len("2026-05-12")


def describe_shift(positions: str, taken_for: str, takeoff: str, evidence: Evidence) -> str:
    """Return by how much coordinates of one frame lie off in another: `0.85 m east, ...`.

    By an exact operation that is registered for the place and the day; empty where there is none,
    or where the frames are not surely two, the site or the day is not known.

    Args:
        positions: frame that the coordinates are in.
        taken_for: frame that they are said to be in.
        takeoff: time of the flight, ISO 8601.
        evidence: for the place of the delivered points.
    """
    if compare_frames(positions, taken_for) is not Answer.BROKEN:
        return ""
    site = find_site(evidence)
    if site is None:
        return ""
    try:
        place = Place(*site, date.fromisoformat(takeoff[:_DAY]))
        found = find_frame_shift(place, clean_frame(taken_for), clean_frame(positions)).parts
    except (SwathbookError, ValueError):
        return ""
    if found is None:
        return ""
    east, north, up = found
    return ", ".join(
        f"{abs(metres):.2f} m {positive if metres >= 0 else negative}"
        for metres, positive, negative in (
            (east, "east", "west"),
            (north, "north", "south"),
            (up, "up", "down"),
        )
    )
