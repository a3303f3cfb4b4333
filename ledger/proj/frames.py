"""From one frame to another at an epoch; `ledger.crs.compute_frame_shift` says what is returned."""

from __future__ import annotations

import math
import warnings
from functools import lru_cache

import numpy as np
import pyproj
from numpy.typing import ArrayLike, NDArray
from pyproj.exceptions import ProjError
from pyproj.network import set_network_enabled  # type: ignore[attr-defined]
from pyproj.transformer import AreaOfInterest, TransformerGroup

from ledger.errors import CrsError, MissingGridError
from ledger.model.georeferencing import Crs, FrameShift
from ledger.proj.definitions import TEXTS_REMEMBERED
from ledger.proj.operations import take_up

Floats = NDArray[np.float64]

# A frame or an operation that is known less well than this tells nothing about a survey. Plain
# WGS 84 is an ensemble of 2 m, and the registry's way from it to a plate's frame moves nothing.
_WORST_ACCURACY_M = 0.25
# Operations are chosen for the surroundings of a place, this far each way, degrees.
_SURROUNDINGS_DEG = 0.05
# Two years far apart, and what places move less than between them where time does not count: 1 mm.
_FAR_APART = (2000.0, 2040.0)
_MOVES_DEG = 1e-8


def compute_frame_shift(
    source: Crs, target: Crs, mark: tuple[float, float, float], epoch: float
) -> FrameShift:
    """Return coordinates in the target less coordinates in the source, of one mark."""
    lon, lat, height_m = mark
    around = round(lon, 1), round(lat, 1)
    operation = _make_operation(source.wkt, target.wkt, *around)
    there = operation.transform(lon, lat, height_m, epoch)
    if not all(math.isfinite(part) for part in there[:3]):
        raise CrsError(
            "the place lies outside the reach of the operation",
            found=f"{lon}, {lat}",
            where=f"{source.name} to {target.name}",
        )
    along_parallel, along_meridian = _measure_degrees(target, lat, height_m)
    turned = (there[0] - lon + 180.0) % 360.0 - 180.0
    return FrameShift(
        east_m=turned * along_parallel,
        north_m=(there[1] - lat) * along_meridian,
        up_m=there[2] - height_m,
        operation=_name(operation),
        accuracy_m=operation.accuracy,
    )


def change_frame_at(
    source: Crs, target: Crs, lon: ArrayLike, lat: ArrayLike, epoch: float | None
) -> tuple[Floats, Floats]:
    """Return longitudes and latitudes in the target."""
    east, north = np.asarray(lon, dtype=np.float64), np.asarray(lat, dtype=np.float64)
    around = round(float(np.mean(east)), 1), round(float(np.mean(north)), 1)
    operation = _make_operation(source.wkt, target.wkt, *around)

    def change(year: float) -> tuple[Floats, Floats]:
        moved = operation.transform(east, north, np.zeros(east.shape), np.full(east.shape, year))
        return np.asarray(moved[0]), np.asarray(moved[1])

    places = change(_FAR_APART[0] if epoch is None else epoch)
    if epoch is None and np.max(np.abs(np.subtract(places, change(_FAR_APART[1])))) > _MOVES_DEG:
        raise CrsError(
            "places move between these frames from year to year, and no epoch was given",
            where=f"{source.name} to {target.name}",
            remedy="say the epoch of the coordinates",
        )
    if not np.isfinite(places).all():
        raise CrsError(
            "a place lies outside the reach of the operation",
            where=f"{source.name} to {target.name}",
        )
    return places


def _measure_degrees(crs: Crs, lat: float, height_m: float) -> tuple[float, float]:
    """Return the metres of a degree at a height, along the parallel and along the meridian."""
    flattening = 1.0 / crs.inverse_flattening if crs.inverse_flattening else 0.0
    squared = flattening * (2.0 - flattening)
    sine, cosine = math.sin(math.radians(lat)), math.cos(math.radians(lat))
    root = math.sqrt(1.0 - squared * sine * sine)
    across = crs.semi_major_m / root + height_m
    along = crs.semi_major_m * (1.0 - squared) / root**3 + height_m
    return math.radians(across * cosine), math.radians(along)


@lru_cache(maxsize=TEXTS_REMEMBERED)
def _take_up_frame(wkt: str) -> pyproj.CRS:
    """Return the geodetic system with heights that lies behind a system."""
    frame = take_up(wkt).geodetic_crs
    if frame is None or frame.datum is None:
        raise CrsError("this system has no frame on Earth", found=wkt[:40])
    upright = frame.to_3d()
    _require_known(upright)
    return upright


def _require_known(frame: pyproj.CRS) -> None:
    """Refuse a frame that is known to metres only, or not in degrees from Greenwich."""
    ensemble = frame.to_json_dict().get("datum_ensemble")
    accuracy = float(ensemble["accuracy"]) if ensemble else 0.0
    if accuracy > _WORST_ACCURACY_M:
        raise CrsError(
            f"{frame.name} is not one frame but several, which differ by up to {accuracy:g} m",
            expected="one of its editions, or ITRF2020",
        )
    meridian = frame.prime_meridian
    degree = abs(frame.axis_info[0].unit_conversion_factor - math.radians(1.0)) < 1e-12
    if not degree or (meridian is not None and meridian.longitude != 0):
        raise CrsError(f"{frame.name} does not count degrees from Greenwich")


@lru_cache(maxsize=TEXTS_REMEMBERED)
def _make_operation(source: str, target: str, lon: float, lat: float) -> pyproj.Transformer:
    """Return the best operation between two frames round a place."""
    set_network_enabled(active=False)
    frames = _take_up_frame(source), _take_up_frame(target)
    where = f"{frames[0].name} to {frames[1].name}"
    reach = _SURROUNDINGS_DEG
    area = AreaOfInterest(lon - reach, lat - reach, lon + reach, lat + reach)
    try:
        with warnings.catch_warnings():
            # That a grid is missing is told by the group itself, and raised below.
            warnings.simplefilter("ignore", UserWarning)
            group = TransformerGroup(
                *frames, always_xy=True, allow_ballpark=False, area_of_interest=area
            )
    except (ProjError, IndexError) as error:  # the second is met where nothing is registered
        raise CrsError("no exact operation is known between these frames", where=where) from error
    if group.unavailable_operations and not group.best_available:
        best = group.unavailable_operations[0]
        missing = sorted(grid.short_name for grid in best.grids if not grid.available)
        raise MissingGridError(
            "the operation between these frames needs a grid that is not on this machine",
            found=", ".join(missing) or best.name,
            where=where,
            remedy="put the grid into the PROJ data folder",
        )
    if not group.transformers:
        raise CrsError("no exact operation is known between these frames", where=where)
    operation = group.transformers[0]
    if not 0 <= operation.accuracy <= _WORST_ACCURACY_M:
        raise CrsError(
            "the operation between these frames is too rough",
            found=_tell_accuracy(operation.accuracy),
            expected=f"at most {_WORST_ACCURACY_M} m",
            where=where,
        )
    return operation


def _tell_accuracy(accuracy: float) -> str:
    """Return an accuracy of the registry in words; it writes -1 for an unknown one."""
    return f"{accuracy:g} m" if accuracy >= 0 else "unknown accuracy"


def _name(operation: pyproj.Transformer) -> str:
    """Return the steps that change something, without conversions and orders of axes."""
    steps = operation.description.split(" + ")
    kept = [s for s in steps if not s.startswith(("axis order", "Conversion from", "Null geogr"))]
    return ", ".join(kept) or "no change"
