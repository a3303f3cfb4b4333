"""Tracks from their files: positions laid out in metres, times turned into GPS seconds.

Longitudes and latitudes are taken to be on the datum of the job: a receiver's own frame differs
from it by a metre or two, which nothing that is read from a track depends on.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ledger.crs import describe, from_lonlat_at, transform
from ledger.errors import CrsError
from ledger.fieldlogs import series as columns
from ledger.fieldlogs.binarytrack import read_binary_track
from ledger.fieldlogs.clocks import Clock, name_scale, read_clock
from ledger.fieldlogs.nmeatrack import read_nmea_track
from ledger.fieldlogs.trackcolumns import read_declared
from ledger.fieldlogs.tracktable import TableTrack, read_track_table
from ledger.model.fieldlogs import FIXED, Gap, LogFile, Series, Track
from ledger.model.fields.choices import FIX_CODES
from ledger.model.georeferencing import Crs, CrsKind
from ledger.model.known import KnownBy, KnownValue
from ledger.model.timescale import TimeScale
from ledger.units import LINEAR_UNITS

# Solutions as programs that post-process often number them, by those of GGA: fixed, float, code
# corrections of two kinds, single.
_BY_PROCESSING = {1: 4, 2: 5, 3: 2, 4: 2, 5: 1}

Floats = NDArray[np.float64]
Told = Mapping[str, Any]

# Sphere of the mean earth, for laying out a site without a system: good to some parts in 1,000.
_RADIUS_M = 6_371_000.0
_MOST_CODES = 100  # fix qualities and satellites in view stay below
_ANGLES = {"rad": 180.0 / np.pi, "gon": 0.9}


def make_track(kind: str, path: Path, source: LogFile, told: Told, crs: Crs | None) -> Track:
    """Return the track of a file.

    Args:
        kind: `sentences`, `table` or `binary`.
        path: where it lies.
        source: what it is in the job.
        told: what is recorded of it: `around_s`, `scale`, `height_type`, `crs`.
        crs: horizontal system of the job; None where it is blank.

    Raises:
        FileError: it cannot be read.
    """
    return _MAKERS[kind](path, source, told, crs)


def _make_sentences(path: Path, source: LogFile, told: Told, crs: Crs | None) -> Track:
    """Return the track of an NMEA log, whose times are UTC by that standard."""
    read = read_nmea_track(path)
    scale = KnownValue(str(TimeScale.UTC), known_by=KnownBy.READ, where="NMEA 0183")
    height = "ellipsoidal" if read.ellipsoidal == read.heights else ""
    track = Track(
        source,
        "sentences",
        bad=read.bad,
        height_type=KnownValue(height, known_by=KnownBy.READ, where="GGA") if height else None,
        quality_known=KnownValue("GGA", known_by=KnownBy.READ, where="NMEA 0183"),
        separation_m=read.separation_m,
    )
    rows = read.gathered.rows
    if not len(rows):
        return track
    clock = read_clock(
        float(rows[0, columns.TIME]), "time of day", scale, told.get("around_s"), read.first_day
    )
    place = _lay_out(rows, crs)
    track = _finish(track, read.gathered, clock, place)
    if clock is None:
        return track
    return replace(track, stations=tuple((at + clock.add_s, name) for at, name in read.stations))


def _make_binary(path: Path, source: LogFile, told: Told, crs: Crs | None) -> Track:
    """Return the track of a binary trajectory, in GPS seconds of the week by its layout."""
    gathered = read_binary_track(path)
    layout = "the layout of the file"
    track = Track(
        source,
        "binary",
        height_type=KnownValue("ellipsoidal", known_by=KnownBy.READ, where=layout),
    )
    if not len(gathered.rows):
        return track
    scale = KnownValue(str(TimeScale.GPS), known_by=KnownBy.READ, where=layout)
    first = float(gathered.rows[0, columns.TIME])
    clock = read_clock(first, "number", scale, told.get("around_s"))
    return _finish(track, gathered, clock, _lay_out(gathered.rows, crs))


def _make_table(path: Path, source: LogFile, told: Told, crs: Crs | None) -> Track:
    """Return the track of a table, by the names of its columns and what is recorded of it."""
    said = told.get("columns")
    read = read_track_table(path, None if said is None else read_declared(str(said.value)))
    name = read.columns["time"].name
    scale = name_scale(name) or _name_zone(read, name) or told.get("scale")
    track = Track(
        source,
        "table",
        bad=read.bad,
        understood={meaning: column.name for meaning, column in sorted(read.columns.items())},
        height_type=_find_height_type(read, told),
        quality_known=_find_coding(read, told.get("codes")),
    )
    rows = _convert(read, told, keep_quality=track.quality_known is not None)
    if not len(rows):
        return track
    gathered = replace(read.gathered, rows=rows)
    clock = read_clock(float(rows[0, columns.TIME]), read.clock, scale, told.get("around_s"))
    place = (
        _lay_out(rows, crs)
        if read.is_lonlat
        else _lay_out_written(rows, crs, told.get("crs"), is_metric=told.get("unit") is not None)
    )
    return _finish(track, gathered, clock, place)


def _name_zone(read: TableTrack, name: str) -> KnownValue | None:
    if not read.zoned:
        return None
    return KnownValue(str(TimeScale.UTC), known_by=KnownBy.READ, where=f"column {name}")


def _find_height_type(read: TableTrack, told: Told) -> KnownValue | None:
    column = read.columns.get("height")
    if column is None:
        return None
    for word, kind in (("ell", "ellipsoidal"), ("ort", "orthometric")):
        if word in column.name.lower():
            return KnownValue(kind, known_by=KnownBy.READ, where=f"column {column.name}")
    recorded: KnownValue | None = told.get("height_type")
    return recorded


def _find_coding(read: TableTrack, codes: KnownValue | None) -> KnownValue | None:
    """Return by what the qualities are known to be those of GGA; None where they may be others.

    Programs that post-process often write 1 for a fixed solution. Only where 4 is met can the
    numbers be those of a receiver; that is a guess all the same.
    """
    column = read.columns.get("quality")
    if column is None:
        return None
    if codes is not None:
        return replace(codes, where=column.name)
    if FIXED not in read.qualities:
        return None
    return KnownValue("GGA", known_by=KnownBy.ASSUMED, confirmed=False, where=column.name)


def _convert(read: TableTrack, told: Told, *, keep_quality: bool) -> Floats:
    """Return rows in metres and degrees, with fix qualities as in GGA."""
    rows = read.gathered.rows.copy()
    unit, codes = told.get("unit"), told.get("codes")
    if unit is not None:
        metres = float(LINEAR_UNITS[str(unit.value)].factor)
        lengths = [columns.HEIGHT] if read.is_lonlat else [columns.X, columns.Y, columns.HEIGHT]
        rows[:, lengths] *= metres
    if codes is not None and str(codes.value) == FIX_CODES[1]:
        written = rows[:, columns.QUALITY].copy()
        for number, quality in _BY_PROCESSING.items():
            rows[written == number, columns.QUALITY] = quality
    for meaning, at in (
        ("roll", columns.ROLL),
        ("pitch", columns.PITCH),
        ("heading", columns.HEADING),
    ):
        if meaning in read.columns:
            rows[:, at] *= _ANGLES.get(read.columns[meaning].unit, 1.0)
    if not keep_quality:
        rows[:, columns.QUALITY] = np.nan
    return rows


def _lay_out(rows: Floats, crs: Crs | None) -> tuple[str, Floats, Floats]:
    """Return what eastings and northings are, and these in metres, from longitude and latitude."""
    lon, lat = rows[:, columns.X], rows[:, columns.Y]
    metres = _find_metres(crs)
    if crs is not None and metres is not None:
        try:
            east, north = from_lonlat_at(crs, lon, lat)
        except CrsError:
            return "local", *_flatten(lon, lat)
        return "job", east * metres, north * metres
    return "local", *_flatten(lon, lat)


def _lay_out_written(
    rows: Floats, crs: Crs | None, system: KnownValue | None, *, is_metric: bool
) -> tuple[str, Floats, Floats]:
    """Return the same of eastings and northings, in metres by now or in the unit of a system."""
    x, y = rows[:, columns.X], rows[:, columns.Y]
    metres = _find_metres(crs)
    if system is not None and crs is not None and metres is not None:
        try:
            source = describe(str(system.value))
            factor = 1 / (source.metres_per_unit or 1.0) if is_metric else 1.0
            east, north = _bring(source, crs, x * factor, y * factor)
        except CrsError:
            pass  # laid out as written, which nothing may pass on
        else:
            return "job", east * metres, north * metres
    factor = 1.0 if is_metric or metres is None else metres
    return "written", x * factor, y * factor


def _bring(source: Crs, crs: Crs, x: Floats, y: Floats) -> tuple[Floats, Floats]:
    if source.wkt == crs.wkt:
        return x, y
    east, north, _ = transform(source, crs, x, y)
    return east, north


def _find_metres(crs: Crs | None) -> float | None:
    return crs.metres_per_unit if crs is not None and crs.kind is CrsKind.PROJECTED else None


def _flatten(lon: Floats, lat: Floats) -> tuple[Floats, Floats]:
    """Return metres east and north of the first place."""
    known = np.flatnonzero(np.isfinite(lon) & np.isfinite(lat))
    if not len(known):
        return lon, lat
    lon0, lat0 = lon[known[0]], lat[known[0]]
    turned = (lon - lon0 + 180.0) % 360.0 - 180.0
    east: Floats = np.radians(turned) * _RADIUS_M * np.cos(np.radians(lat0))
    north: Floats = np.radians(lat - lat0) * _RADIUS_M
    return east, north


def _finish(
    track: Track,
    gathered: columns.Gathered,
    clock: Clock | None,
    place: tuple[str, Floats, Floats],
) -> Track:
    """Return the track with its times and positions."""
    if clock is None:
        return replace(track, epochs=gathered.epochs, fault="the day of its times cannot be told")
    rows, spacing = gathered.rows, gathered.spacing
    time = rows[:, columns.TIME] + clock.add_s
    return replace(
        track,
        scale=clock.scale,
        has_date=clock.has_date,
        span_s=(float(time[0]), float(time[-1])),
        epochs=gathered.epochs,
        bad=track.bad + gathered.bad,
        place=place[0],
        step_s=spacing.step_s,
        gaps=tuple(Gap(begin + clock.add_s, seconds) for begin, seconds in spacing.gaps),
        longest_gap_s=spacing.longest_gap_s,
        repeated=spacing.repeated,
        backward=spacing.backward,
        series=_make_series(rows, time, place),
    )


def _take_whole(column: Floats) -> Floats:
    """Return a column of codes or counts, -1 where it holds nothing, a part or what none has."""
    is_whole = (column >= 0) & (column < _MOST_CODES) & (column == np.floor(column))
    return np.where(is_whole, column, -1.0)


def _make_series(rows: Floats, time: Floats, place: tuple[str, Floats, Floats]) -> Series:
    def take(column: int) -> Floats:
        values: Floats = _seal(rows[:, column].copy())
        return values

    return Series(
        time_s=_seal(time),
        east_m=_seal(np.array(place[1])),
        north_m=_seal(np.array(place[2])),
        height_m=take(columns.HEIGHT),
        quality=_seal(_take_whole(rows[:, columns.QUALITY]).astype(np.int8)),
        satellites=_seal(_take_whole(rows[:, columns.SATELLITES]).astype(np.int16)),
        hdop=take(columns.HDOP),
        pdop=take(columns.PDOP),
        age_s=take(columns.AGE),
        sigma_m=take(columns.SIGMA),
        roll_deg=take(columns.ROLL),
        pitch_deg=take(columns.PITCH),
        heading_deg=take(columns.HEADING),
    )


def _seal(array: Any) -> Any:  # noqa: ANN401 - an array of any kind
    array.flags.writeable = False
    return array


_MAKERS = {"sentences": _make_sentences, "binary": _make_binary, "table": _make_table}
