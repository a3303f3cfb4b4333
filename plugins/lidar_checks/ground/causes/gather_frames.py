"""Other frames and epochs that the records of a job speak of, and how far they are off here."""

from __future__ import annotations

import re
from collections.abc import Iterator

import numpy as np

from ledger.contract.evidence import Evidence
from ledger.crs import compare, compute_convergence, describe_frame, name_frame
from ledger.dataclass import dataclass
from ledger.errors import SwathbookError
from ledger.expected import (
    Place,
    Vector,
    find_combined_factor,
    find_drift,
    find_frame,
    find_frame_shift,
    find_scale_factor,
)
from ledger.model.georeferencing import Crs, CrsKind
from lidar_checks.ground.causes.observed import Floats
from lidar_checks.ground.causes.site_facts import Drift, FrameShift, Missing, Projection
from lidar_checks.ground.causes.site_place import Site

WORLDWIDE = "ITRF2020"
"""What satellite positions are in where nobody says otherwise; its editions since 2000 differ by
centimetres at most."""

_RECORDS = ("frame", "geoid_frame", "crs", "trajectory_crs")
_CARDS = ("flight.frame", "flight.base_frame", "flight.service_frame")
_EPOCH = re.compile(r"[@(\s]*(epoch\s*)?\d{4}\.\d+\)?\s*$", re.IGNORECASE)
_PLAIN = ("WGS 84", "WGS84")


@dataclass(frozen=True)
class Frames:
    """What is known of frames at the points; see `SiteFacts` for the parts."""

    frames: tuple[FrameShift, ...] = ()
    drifts: tuple[Drift, ...] = ()
    projection: Projection | None = None
    missing: tuple[Missing, ...] = ()


def gather_frames(site: Site, geoid_m: float, evidence: Evidence) -> Frames:
    """Return shifts to other frames, moves between epochs, and the map projection.

    Args:
        site: the points.
        geoid_m: height of the geoid there, metres.
        evidence: the records.
    """
    place, crs = site.find_place(geoid_m), site.crs
    if place is None or crs is None:
        told = [Missing(fact, site.reason) for fact in ("frames", "drifts", "projection")]
        return Frames(missing=tuple(told))
    convergence, projection, missing = _find_projection(crs, place)
    job, alias = _name_job_frame(crs)
    count = site.observed.count
    frames: list[FrameShift] = []
    for name, is_recorded in _list_frames(job, evidence):
        found = find_frame_shift(place, job, name)
        shift = _lay(found, convergence, count)
        if shift is None:
            missing.append(Missing("frames", found.reason))
        else:
            operation = f"{found.how}{alias}{site.remark}"
            frames.append(FrameShift(name, job, place.epoch, shift, is_recorded, operation))
    if not frames:
        missing.append(Missing("frames", "no record names another frame"))
    drifts = _find_drifts(job, convergence, place, frames, evidence, missing)
    tiled = tuple(_tile_drift(each, count) for each in drifts)
    return Frames(tuple(frames), tiled, projection, tuple(missing))


def _find_projection(crs: Crs, place: Place) -> tuple[float, Projection | None, list[Missing]]:
    """Return the convergence in degrees, the projection, and why there is none."""
    if crs.kind is not CrsKind.PROJECTED:
        return 0.0, None, [Missing("projection", f"{crs.name} is no map projection")]
    scale, combined = find_scale_factor(crs, place), find_combined_factor(crs, place)
    try:
        convergence = compute_convergence(crs, place.lon, place.lat)
    except SwathbookError as error:
        return 0.0, None, [Missing("projection", str(error))]
    if scale.value is None or combined.value is None:
        return convergence, None, [Missing("projection", scale.reason or combined.reason)]
    turn = float(np.radians(convergence))
    return convergence, Projection(crs.name, scale.value, combined.value, turn), []


def _name_job_frame(crs: Crs) -> tuple[str, str]:
    """Return the frame of the job, and a remark where another name stands for it."""
    name = name_frame(crs)
    if name in _PLAIN:
        return WORLDWIDE, f"; {name} taken for {WORLDWIDE}"
    return name, ""


def _list_frames(job: str, evidence: Evidence) -> Iterator[tuple[str, bool]]:
    """Yield other frames: those on record, then the worldwide one where the job's is another."""
    seen = {_spell(job)}
    for written in _list_written(evidence):
        name = _clean(written)
        if not name or _spell(name) in seen or _is_same(job, name):
            continue
        seen.add(_spell(name))
        yield name, True
    if _spell(WORLDWIDE) not in seen and not is_worldwide(job):
        yield WORLDWIDE, False


def _list_written(evidence: Evidence) -> Iterator[str]:
    for process in evidence.processes:
        for name in _RECORDS:
            known = process.find_value(name)
            if known is not None:
                yield str(known.value)
    for card in evidence.flights:
        for key in _CARDS:
            if key in card.values:
                yield str(card.values[key].value)
    for table in evidence.tables:
        if "horizontal" in table.declared:
            yield str(table.declared["horizontal"].value)


def _clean(written: str) -> str:
    """Return the name of the frame behind a system or a frame as written; empty for none."""
    text = _EPOCH.sub("", written).strip()
    frame = describe_frame(text)
    if frame is not None:
        name = name_frame(frame) or text
    else:
        try:
            name = name_frame(find_frame(text))
        except SwathbookError:
            return ""
    return WORLDWIDE if name in _PLAIN else name


def _is_same(job: str, name: str) -> bool:
    try:
        differences = compare(find_frame(job), find_frame(name))
    except SwathbookError:
        return True  # what is not understood predicts nothing
    return all(difference.part != "datum" for difference in differences)


def is_worldwide(name: str) -> bool:
    """Say whether a frame is one of those that no plate rests in."""
    return name.startswith(("ITRF", "IGS", "IGb", "WGS 84"))


def _spell(name: str) -> str:
    return re.sub(r"[^a-z0-9]+", "", name.casefold())


def _lay(found: Vector, convergence: float, count: int) -> Floats | None:
    """Return a vector along the axes of the map at each point; None where there is none."""
    parts = found.on_grid(convergence).parts
    return None if parts is None else np.tile(np.array(parts), (count, 1))


def _find_drifts(  # noqa: PLR0913, PLR0917 - what a drift depends on
    job: str,
    convergence: float,
    place: Place,
    frames: list[FrameShift],
    evidence: Evidence,
    missing: list[Missing],
) -> list[Drift]:
    start = evidence.specification.coordinates.epoch
    if start is None:
        missing.append(Missing("drifts", "coordinates.epoch is blank in job.toml"))
        return []
    resting = job
    if is_worldwide(job):
        plates = [each.frame for each in frames if not is_worldwide(each.frame)]
        if not plates:
            why = f"no record names a frame that rests on the plate, and {job} does not"
            missing.append(Missing("drifts", why))
            return []
        resting = plates[0]
    moving = job if is_worldwide(job) else WORLDWIDE
    found = find_drift(place, resting, moving, start)
    shift = _lay(found, convergence, 1)
    if shift is None:
        missing.append(Missing("drifts", found.reason))
        return []
    return [Drift(moving, start, place.epoch, shift, found.how)]


def _tile_drift(drift: Drift, count: int) -> Drift:
    shift = np.tile(drift.shift[0], (count, 1))
    return Drift(drift.frame, drift.from_epoch, drift.to_epoch, shift, drift.operation)
