"""Honest surveys, in which nothing is wrong: whatever a check says against them is a false alarm.

Ground, scanner, place and unit differ, since each of them has made some check cry out for nothing.
Every one is a whole job: raw file, rig, flight, an accepted run, a specification. All of it is
invented; sites lie where the coordinate system of each is used, in open water or open land.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
from job_bench import JobBench

from ledger.testing import Layout, Scene, SurveyBuilder
from ledger.testing.scene import Float64Array, Points

US_FOOT = 1200 / 3937
_DAY = "2026-05-04"

SPECIFICATION = """
[job]
reference = "HS-1"
title = "Honest survey"

[coordinates]
horizontal = "{horizontal}"
vertical = "orthometric"
vertical_crs = "{vertical}"
geoid = {{ name = "model-A", version = "1" }}
unit = {{ horizontal = "{unit}", vertical = "{unit}" }}

[criteria.point-density]
min_pts_per_m2 = {density}
"""

RIG = {
    "scanner_serial": "SU-07",
    "aircraft_serial": "AC-03",
    "lever_arm_aircraft": "0.112 0.004 0.231",
    "lever_arm_convention": "forward-right-down",
    "lever_arm_measured": "2026-04-02",
    "bracket": "B-1",
    "calibration_date": "2026-01-15",
    "calibration_serial": "SU-07",
}
FLIGHT = {
    "rig": "G1",
    "platform": "drone",
    "mount_mode": "drone",
    "orientation": "inverted",
    "position_source": "aircraft receiver",
    "scanner_antenna_fitted": "no",
    "scanner_serial": "SU-07",
    "height_type": "ellipsoidal",
    "base_kind": "own base",
    "base_mark": "M1",
    "base_height": "1.523",
    "base_height_again": "1.524",
    "base_height_kind": "vertical",
    "takeoff": f"{_DAY}T14:00:00Z",
    "landing": f"{_DAY}T14:18:00Z",
    "lines": "4",
}
RUN = {
    "software": "Example Suite",
    "version": "3.2",
    "mount_mode": "drone",
    "orientation": "inverted",
    "position_source": "aircraft receiver",
    "lever_arm": "0.112 0.004 0.231",
    "lever_arm_from": "aircraft antenna",
    "lever_arm_convention": "forward-right-down",
    "input_height_type": "ellipsoidal",
    "output_height_type": "orthometric",
    "geoid_name": "model-A",
    "geoid_version": "1",
    "geoid_applications": "1",
    "control_used": "no",
    "decision": "accepted",
    "reason": "fits",
}


@dataclass(frozen=True)
class Site:
    """Where a survey lies, and in what.

    Args:
        horizontal: code of the horizontal coordinate system.
        vertical: code of the heights.
        origin: south-west corner, in units of the system.
        frame: reference frame, as a form holds it.
        zone: zone, as a form holds it; empty for none.
        datum: vertical datum, as a form holds it.
        unit: unit of all axes, as `job.toml` says it.
        metres: metres in one unit.
    """

    horizontal: str = "EPSG:6346"
    vertical: str = "EPSG:5703"
    origin: tuple[float, float] = (500_000.0, 3_100_000.0)
    frame: str = "NAD83(2011)"
    zone: str = "17N"
    datum: str = "NAVD88"
    unit: str = "metre"
    metres: float = 1.0


FLORIDA = Site()
FLORIDA_FEET = Site(
    horizontal="EPSG:6438",
    vertical="EPSG:6360",
    origin=(656_200.0, 1_500_000.0),
    zone="Florida East",
    unit="us-survey-foot",
    metres=US_FOOT,
)
AUSTRALIA = Site("EPSG:7856", "EPSG:5711", (300_000.0, 6_250_000.0), "GDA2020", "56S", "AHD")
ZONE_EDGE = replace(FLORIDA, origin=(796_000.0, 3_100_000.0))
NORWAY_32 = Site("EPSG:25832", "EPSG:5941", (298_000.0, 6_700_000.0), "ETRS89", "32N", "NN2000")


@dataclass(frozen=True)
class Ground(Scene):
    """A scene whose ground, vegetation and returns can be given another shape.

    Args:
        shape: what is added to the smooth ground: takes x and y from the origin.
        absorbs: where no pulse comes back; takes the same.
        returns: most returns of a pulse in vegetation.
    """

    shape: Callable[[Float64Array, Float64Array], Float64Array] | None = None
    absorbs: Callable[[Float64Array, Float64Array], Any] | None = None
    returns: int = 2

    def compute_ground(self, x: Float64Array, y: Float64Array) -> Float64Array:
        """Return the true height of the ground, units of Z."""
        smooth = super().compute_ground(x, y)
        if self.shape is None:
            return smooth
        east, north = np.asarray(x) - self.origin[0], np.asarray(y) - self.origin[1]
        return smooth + self.shape(east, north)

    def make_tile(self, column: int, row: int) -> Points:
        """Return the points of one tile; those that were absorbed are not among them."""
        points = super().make_tile(column, row)
        if self.returns > 2:
            points = self._split_returns(points, column, row)
        if self.absorbs is None:
            return points
        east = points["x"].astype(np.float64) - self.origin[0]
        north = points["y"].astype(np.float64) - self.origin[1]
        kept = ~np.asarray(self.absorbs(east, north), dtype=bool)
        return {name: values[kept] for name, values in points.items()}

    def _split_returns(self, points: Points, column: int, row: int) -> Points:
        """Give pulses with two returns some more on their way down."""
        random = np.random.default_rng((self.seed, column, row, 99))
        first = (points["return_number"] == 1) & (points["number_of_returns"] == 2)
        more = np.where(first, random.integers(0, self.returns - 1, len(first)), 0)
        last_more = np.where(points["return_number"] == 2, np.roll(more, 1), more)
        repeats = 1 + more
        whole: Points = {name: np.repeat(values, repeats) for name, values in points.items()}
        place = np.arange(len(whole["x"])) - np.repeat(np.cumsum(repeats) - repeats, repeats)
        extra = np.repeat(last_more, repeats)
        was_last = np.repeat(points["return_number"] == 2, repeats)
        whole["z"] = whole["z"].astype(np.float64) - 0.9 * place / self.returns
        whole["return_number"] = (np.where(was_last, 2 + extra, 1 + place)).astype(np.uint8)
        total = np.repeat(points["number_of_returns"], repeats) + extra
        whole["number_of_returns"] = total.astype(np.uint8)
        return whole


@dataclass(frozen=True)
class Honest:
    """One honest survey.

    Args:
        name: what is special about it.
        scene: what was flown, in metres and from the site's origin.
        site: where.
        layout: how it is stored.
        density: what the specification asks for, points per m².
        finish: what happens to the files last.
        run: values of the run's form that differ.
        flights: number of flights, each with a base of its own.
    """

    name: str
    scene: Scene = field(default_factory=Ground)
    site: Site = FLORIDA
    layout: Layout = field(default_factory=Layout)
    density: float = 4.0
    finish: Callable[[SurveyBuilder], object] = lambda survey: survey
    run: tuple[tuple[str, str], ...] = ()
    flights: int = 1


def _make_scene(scene: Scene, site: Site) -> Scene:
    """Return a scene in the units of its site."""
    factor = 1 / site.metres
    return replace(
        scene,
        origin=site.origin,
        tile_size=round(scene.tile_size * factor),
        density=scene.density / factor**2,
        height=scene.height * factor,
        relief=scene.relief * factor,
        noise=scene.noise * factor,
    )


def _quarry_face(east: Float64Array, north: Float64Array) -> Float64Array:
    """Return a face of 8 m, exactly where the first tile ends."""
    return np.where(east < 40.0, 0.0, -8.0) + 0.0 * north


def _slope(east: Float64Array, north: Float64Array) -> Float64Array:
    """Return a hillside of 35 degrees."""
    return 0.7 * east + 0.0 * north


def _pond(east: Float64Array, north: Float64Array) -> Any:
    return np.hypot(east - 40.0, north - 20.0) < 9.0


def _leave_one_point(survey: SurveyBuilder) -> object:
    return survey.keep_points(1, np.arange(1))


def _empty(survey: SurveyBuilder) -> object:
    return survey.empty_tile(1)


_BASE = Ground(tile_size=40.0, density=5.0, noise=0.008)

SURVEYS = (
    Honest("flat", replace(_BASE, relief=0.02)),
    Honest("rolling", _BASE),
    Honest("steep", replace(_BASE, shape=_slope)),
    Honest("forest", replace(_BASE, vegetation=0.8), density=4.0),
    Honest("pond", replace(_BASE, absorbs=_pond)),
    Honest("quarry face at a tile edge", replace(_BASE, shape=_quarry_face)),
    Honest("single-return scanner", replace(_BASE, vegetation=0.0)),
    Honest("many-return scanner", replace(_BASE, vegetation=0.5, returns=5)),
    Honest(
        "older format",
        _BASE,
        layout=Layout(version="1.2", point_format=3, compressed=False),
    ),
    Honest("US survey feet", _BASE, FLORIDA_FEET, Layout(crs="EPSG:6438+6360")),
    Honest("southern hemisphere", _BASE, AUSTRALIA, Layout(crs="EPSG:7856+5711")),
    Honest("zone edge", _BASE, ZONE_EDGE),
    Honest("zone 32 in western Norway", _BASE, NORWAY_32, Layout(crs="EPSG:25832+5941")),
    Honest("one empty tile", _BASE, finish=_empty),
    Honest("one tile of one point", _BASE, finish=_leave_one_point),
    Honest("two flights with a base each", _BASE, flights=2),
    Honest("one tile, one pass", replace(_BASE, columns=1, passes=1, density=9.0)),
)


def make_job(bench: JobBench, honest: Honest) -> SurveyBuilder:
    """Work through the whole job up to its audit; return the survey in `out`."""
    site = honest.site
    text = SPECIFICATION.format(
        horizontal=site.horizontal,
        vertical=site.vertical,
        unit=site.unit,
        density=honest.density,
    )
    bench.write("job.toml", text.encode())
    rig = _make_options(RIG)
    assert bench.run("record", "rig", *rig).status == 0
    flights = [f"F{number + 1}" for number in range(honest.flights)]
    for name in flights:
        bench.write(f"raw/{name}/capture.bin", f"capture of {name}\0".encode() * 999)
        assert bench.run("register", f"raw/{name}", "--flight", name).status == 0
        values = {**FLIGHT, "frame": site.frame, "base_mark": f"M-{name}"}
        ran = bench.run("record", "flight", name, *_make_options(values))
        assert ran.status == 0, ran.err
    survey = SurveyBuilder(bench.job / "out", honest.layout, _make_scene(honest.scene, site))
    honest.finish(survey)
    values = {
        **RUN,
        "crs": site.horizontal,
        "frame": site.frame,
        "geoid_frame": site.frame,
        "vertical_datum": site.datum,
        **({"zone": site.zone} if site.zone else {}),
        **dict(honest.run),
    }
    inputs = [word for name in flights for word in ("--input", name)]
    ran = bench.run("record", "out", *inputs, *_make_options(values))
    assert ran.status == 0, ran.err
    return survey


def _make_options(values: dict[str, str]) -> list[str]:
    return [word for key, value in values.items() for word in ("--set", f"{key}={value}")]
