"""How far one and the same mark has other coordinates in another frame, or at another epoch.

Only registered operations of the EPSG registry count, never an approximate one, and never one by
way of a frame that is only known to metres (plain WGS 84 names all its editions at once).
"""

from __future__ import annotations

from ledger.crs import compute_frame_shift, describe, describe_frame
from ledger.errors import CrsError, SwathbookError
from ledger.expected.records import Place, Vector
from ledger.loading import load_part
from ledger.model.georeferencing import Crs, FrameShift


def find_frame(named: str) -> Crs:
    """Return the system of a frame: `NAD83(2011)`, `ITRF2020`, an EPSG code or WKT.

    Raises:
        CrsError: nothing is known under that name.
    """
    found = describe_frame(named)
    if found is not None:
        return found
    try:
        return describe(named)
    except CrsError as error:
        raise CrsError(
            "this frame is not known",
            found=named,
            expected="a name such as NAD83(2011) or ITRF2020, or an EPSG code",
        ) from error


def is_conversion(name: str) -> bool:
    """Say whether the registry knows an operation as a mere conversion, as a map projection is.

    A conversion leads from one system to another of the same frame (ISO 19111).

    Args:
        name: `EPSG:16017` or `UTM zone 17N`.
    """
    return bool(load_part("ledger.proj.names", "is_conversion")(name.strip()))


def find_operation_accuracy(name: str) -> float | None:
    """Return how good the registry says an operation between two systems is, metres.

    Args:
        name: `EPSG:1188` or `NAD83 to WGS 84 (1)`; `Inverse of` before it does not count.

    Returns:
        0 for one that is exact by definition; None for one that the registry does not know, or of
        which it gives no accuracy.
    """
    found: float | None = load_part("ledger.proj.names", "look_up_accuracy")(name.strip())
    return found


def find_frame_shift(
    place: Place, source: Crs | str, target: Crs | str, epoch: float | None = None
) -> Vector:
    """Return the coordinates in one frame less those in another, of the same mark, metres.

    What a cloud shows whose heights and places were never transformed: coordinates in ITRF2020 that
    are taken for NAD83(2011) lie off by NAD83(2011) to ITRF2020.

    Args:
        place: where; its height moves the result by less than a millimetre.
        source: frame whose coordinates are taken off; of a map system the frame behind it.
        target: frame whose coordinates count.
        epoch: year of the measuring, 2026.37; None for the day of the place.
    """
    try:
        when = place.epoch if epoch is None else epoch
        found = _compute(place, source, target, when)
    except SwathbookError as error:
        return Vector(None, None, reason=str(error))
    how = f"{found.operation} at {when:.2f}"
    return Vector(found.east_m, found.north_m, found.up_m, how=how)


def find_drift(
    place: Place, fixed: Crs | str, moving: Crs | str, start: float, end: float | None = None
) -> Vector:
    """Return how far a mark moves in one frame while it rests in another, metres.

    The plate drifts through a worldwide frame; in the frame of the plate its marks (nearly) rest.

    Args:
        place: where.
        fixed: frame in which the mark rests, `NAD83(2011)`.
        moving: frame through which it drifts, `ITRF2020`.
        start: year at which the movement counts from.
        end: year at which it ends; None for the day of the place.
    """
    try:
        until = place.epoch if end is None else end
        before, after = (_compute(place, fixed, moving, epoch) for epoch in (start, until))
    except SwathbookError as error:
        return Vector(None, None, reason=str(error))
    return Vector(
        after.east_m - before.east_m,
        after.north_m - before.north_m,
        after.up_m - before.up_m,
        how=f"{after.operation}, {start:.2f} to {until:.2f}",
    )


def _compute(place: Place, source: Crs | str, target: Crs | str, epoch: float) -> FrameShift:
    mark = (place.lon, place.lat, place.height_m or 0.0)
    return compute_frame_shift(_take_up(source), _take_up(target), mark, epoch)


def _take_up(frame: Crs | str) -> Crs:
    return find_frame(frame) if isinstance(frame, str) else frame
