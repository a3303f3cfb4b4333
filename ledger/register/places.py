"""Raw data that was recorded far from the site, told before anything is processed.

A remark and no refusal: the boundary may be the one that is wrong.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path

from ledger.dataclass import dataclass
from ledger.errors import SwathbookError
from ledger.expected.earth import measure_distance_m, to_geodetic
from ledger.jobfolder import SPECIFICATION_NAME, read_boundary_name
from ledger.loading import load_part
from ledger.model.artefact import FileRecord, Role
from ledger.model.phrases import count_things

Place = tuple[float, float]

# Beyond the outline of the site; common practice, no source.
_FAR_KM = 5.0
# A base or a station of a network: Geospatial Information Authority of Japan, survey work
# regulations 2025, art. 454.
_FAR_BASE_KM = 50.0
_TOLD = 3


@dataclass(frozen=True)
class _Site:
    """Where the site lies.

    Args:
        boundary: the file that says so, as `job.toml` names it.
        middle: longitude and latitude, degrees.
        reach_m: from there to its farthest corner.
    """

    boundary: str
    middle: Place
    reach_m: float


def remark_on_places(job: Path, records: Sequence[FileRecord]) -> Iterator[str]:
    """Yield one sentence, without a full stop, for each file that was recorded far from the site.

    Nothing is said where `job.toml` names no boundary, or one that cannot be placed: an audit tells
    that.

    Args:
        job: the job folder.
        records: the files of this call.
    """
    name = read_boundary_name(job)
    if not name:
        return
    placed = [(each, place) for each in records if (place := _find_place(each, job)) is not None]
    site = _place_site(job, name) if placed else None
    if site is None:
        return
    told: list[str] = []
    for record, place in placed:
        off_km = max(0.0, measure_distance_m(place, site.middle) - site.reach_m) / 1000
        limit = _FAR_BASE_KM if record.role == Role.BASE_LOG else _FAR_KM
        if off_km > limit:
            told.append(
                f"{record.path} was recorded {off_km:,.0f} km from the boundary of this job "
                f"({site.boundary}), farther than {limit:g} km: it belongs to another job, or the "
                "boundary does"
            )
    yield from told[:_TOLD]
    if len(told) > _TOLD:
        yield f"{count_things(len(told) - _TOLD, 'more file')} of this call as far away"


def _find_place(record: FileRecord, job: Path) -> Place | None:
    """Return longitude and latitude that a file says of itself; None where it says none."""
    facts = record.facts
    if record.role == Role.BASE_LOG and facts.get("position_m"):
        lon, lat, _ = to_geodetic(*(float(str(part)) for part in facts["position_m"]))
        return lon, lat
    if facts.get("position_deg"):
        lon, lat = (float(str(part)) for part in facts["position_deg"])
        return lon, lat
    if record.role == Role.PHOTO:
        found: Place | None = load_part("ledger.photos", "find_place")(job / record.path)
        return found
    return None


def _place_site(job: Path, name: str) -> _Site | None:
    """Return where the site lies; None where the boundary has no place."""
    try:
        specification = load_part("ledger.specfile.reading", "read_specification")(
            job / SPECIFICATION_NAME
        )
        corners: Sequence[Place] = load_part("ledger.audit.boundary", "find_corners")(
            specification, job / name
        )
    except SwathbookError:
        return None
    (west, south), (east, north) = corners[0], corners[-1]
    middle = (west + east) / 2, (south + north) / 2
    return _Site(name, middle, max(measure_distance_m(middle, corner) for corner in corners))
