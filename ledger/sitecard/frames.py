"""Lines about frames: positions of one frame taken for another, and years that were left out."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from ledger.crs import describe, name_frame
from ledger.expected import Place, Vector, find_drift, find_frame, find_frame_shift
from ledger.model.georeferencing import Crs
from ledger.sitecard.heights import Told
from ledger.sitecard.result import Line, Missing, Part

SATELLITE_FRAME = "ITRF2020"
"""The frame in which positions straight from satellites are, to some centimetres: that of GPS
follows it (WGS 84 (G2296) is ITRF2020 in the EPSG registry)."""

# Frames of plates and countries that are in use, by their three-dimensional code in the EPSG
# registry, those that come first before others. Which of them reach a place is asked of the
# registry. The choice: common practice, no source.
_IN_USE = (
    "EPSG:6321",  # NAD83(PA11)
    "EPSG:6324",  # NAD83(MA11)
    "EPSG:6319",  # NAD83(2011)
    "EPSG:10413",  # NAD83(CSRS)v8
    "EPSG:4977",  # SWEREF99
    "EPSG:4937",  # ETRS89
    "EPSG:7931",  # ETRF2000
    "EPSG:7843",  # GDA2020
    "EPSG:4939",  # GDA94
    "EPSG:4959",  # NZGD2000
    "EPSG:6667",  # JGD2011
    "EPSG:4480",  # China Geodetic Coordinate System 2000
    "EPSG:5342",  # POSGAR 2007
    "EPSG:4989",  # SIRGAS 2000
)
_SAME_M = 0.005


def list_frames_here(place: Place) -> tuple[Crs, ...]:
    """Return the frames in use whose area, a box in the registry, reaches a place."""
    known = (describe(code) for code in _IN_USE)
    return tuple(
        crs
        for crs in known
        if crs.area is not None and crs.area.measure_outside(place.lon, place.lat) == 0
    )


def choose_frame(place: Place, here: Sequence[Crs]) -> tuple[Crs | None, tuple[Missing, ...]]:
    """Return the first frame of a place that is tied to satellites, and why those before are not.

    Args:
        place: where and when.
        here: the frames in use there.

    Returns:
        None where no frame is known at all; the first where none is tied.
    """
    untied: list[Missing] = []
    for each in here:
        reason = find_frame_shift(place, each, SATELLITE_FRAME).reason
        if not reason:
            return each, tuple(untied)
        pair = f"{SATELLITE_FRAME} for {name_frame(each)}"
        untied.append(Missing("frame-shift", f"{pair}: {reason}"))
    return (here[0], ()) if here else (None, ())


def tell_frames(
    place: Place, right: Crs, others: Sequence[Crs], epoch: float | None
) -> Iterator[Told]:
    """Yield what is to be expected where another frame was taken for the right one.

    Args:
        place: where and when.
        right: the frame in which the work has to be.
        others: frames that may be taken for it, beside the one of satellites.
        epoch: year of which coordinates are asked; None when blank.
    """
    told: list[Vector] = []
    for other in (find_frame(SATELLITE_FRAME), *others):
        shift = find_frame_shift(place, right, other)
        if shift.parts is None:
            # Of a frame that nobody named, and that is not the first, silence is enough.
            if not told:
                pair = f"{name_frame(other)} for {name_frame(right)}"
                yield Missing("frame-shift", f"{pair}: {shift.reason}")
        elif math.hypot(*shift.parts) >= _SAME_M and not any(_is_same(shift, t) for t in told):
            told.append(shift)
            yield from _tell_shift(name_frame(right), name_frame(other), shift)
    yield from _tell_years(place, (right, *others), epoch)


def _is_same(a: Vector, b: Vector) -> bool:
    pairs = zip(a.parts or (), b.parts or (), strict=True)
    return all(abs(one - other) < _SAME_M for one, other in pairs)


def _tell_shift(right: str, other: str, shift: Vector) -> Iterator[Line]:
    east, north, up = shift.parts or (0.0, 0.0, 0.0)
    yield Line(
        "frame-not-transformed",
        (Part("east", east, "m"), Part("north", north, "m"), Part("height", up, "m")),
        math.hypot(east, north, up),
        f"positions in {other} were taken for {right}; with opposite signs: transformed twice",
        shift.how,
    )
    if other == SATELLITE_FRAME:
        yield Line(
            "geoid-of-another-frame",
            (Part("height", up, "m"),),
            abs(up),
            f"heights in {other} went through a geoid made for {right}, east and north are right",
            shift.how,
        )


def _tell_years(place: Place, frames: Sequence[Crs], epoch: float | None) -> Iterator[Told]:
    """Yield how far the ground drifts through the frame of satellites in the years left out."""
    start = place.epoch - 1.0 if epoch is None else epoch
    drifts = ((each, find_drift(place, each, SATELLITE_FRAME, start)) for each in frames)
    for frame, drift in drifts:
        east, north, _ = drift.parts or (0.0, 0.0, 0.0)
        if math.hypot(east, north) < 1e-4:
            continue  # the frame of satellites itself, or one that is tied to nothing here
        left_out = "one year" if epoch is None else f"the years since {epoch:.1f}"
        yield Line(
            "epoch-ignored",
            (Part("east", east, "m"), Part("north", north, "m")),
            math.hypot(east, north),
            f"{left_out} left out: so far the ground, at rest in {name_frame(frame)}, drifts in "
            f"{SATELLITE_FRAME}; either sign",
            drift.how,
        )
        return
    yield Missing("epoch-ignored", "no frame here says how the ground drifts")
