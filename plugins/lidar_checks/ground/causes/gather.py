"""The facts of a job, from its records, its grids and the coordinate library."""

from __future__ import annotations

from datetime import UTC, date, datetime

from ledger.contract.evidence import Evidence
from ledger.model.timescale import count_leap_seconds
from lidar_checks.ground.causes.gather_base import gather_bases
from lidar_checks.ground.causes.gather_flown import gather_overflown
from lidar_checks.ground.causes.gather_frames import gather_frames
from lidar_checks.ground.causes.gather_heights import gather_geoids
from lidar_checks.ground.causes.gather_setup import gather_setup
from lidar_checks.ground.causes.observed import Observed
from lidar_checks.ground.causes.site_facts import SiteFacts
from lidar_checks.ground.causes.site_place import find_site


def gather(observed: Observed, evidence: Evidence) -> SiteFacts:
    """Return everything that predictions at these points are made from."""
    site = find_site(observed, evidence)
    geoids = gather_geoids(site, evidence)
    asked = evidence.specification.coordinates.vertical or ""
    lifted = 0.0 if asked == "ellipsoidal" else geoids.height_m
    frames = gather_frames(site, lifted, evidence)
    setup = gather_setup(evidence)
    bases, no_base = gather_bases(site, lifted, evidence)
    overflown, not_flown = gather_overflown(observed, evidence)
    return SiteFacts(
        east=observed.east,
        north=observed.north,
        height=observed.height,
        asked=asked,
        grid=geoids.grid,
        other_grids=geoids.others,
        receiver_m=geoids.receiver_m,
        receiver_log=geoids.receiver_log,
        frames=frames.frames,
        drifts=frames.drifts,
        antennas=setup.antennas,
        arms=setup.arms,
        bases=bases,
        projection=frames.projection,
        overflown=overflown,
        leap_s=_count_leap_seconds(site.day),
        missing=(*geoids.missing, *frames.missing, *setup.missing, *no_base, *not_flown),
    )


def _count_leap_seconds(day: date | None) -> int | None:
    if day is None:
        return None
    return count_leap_seconds(datetime(day.year, day.month, day.day, tzinfo=UTC))
