"""Honest jobs, in which nothing is wrong: whatever a check says against them is a false alarm.

Ground, scanner, place and unit differ, since each of them has made some check cry out for nothing.
Every one is a whole job: raw file, rig, flight, an accepted run, a specification. All of it is
invented; sites lie where the coordinate system of each is used, in open water or open land.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace

import sound_records
from honest_ground import Ground
from job_bench import JobBench

from ledger.testing import Layout, Scene, SurveyBuilder, spread_points

US_FOOT = 1200 / 3937
_CHECKPOINTS, _ROVER_M = 30, 0.01

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
    **sound_records.RIG,
    "aircraft_serial": "AC-03",
    "calibration_date": "2026-01-15",
    "calibration_serial": "SU-07",
}
FLIGHT = {
    **sound_records.FLIGHT,
    "scanner_serial": "SU-07",
    "base_height_kind": "vertical",
    "lines": "4",
}
RUN = {
    **sound_records.RUN,
    "geoid_name": "model-A",
    "geoid_applications": "1",
    "control_used": "no",
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
OREGON = Site(
    horizontal="EPSG:6559",
    vertical="EPSG:8228",
    origin=(7_544_200.0, 131_700.0),
    zone="",
    unit="international-foot",
    metres=0.3048,
)
ZONE_EDGE = replace(FLORIDA, origin=(796_000.0, 3_100_000.0))
NORWAY_32 = Site("EPSG:25832", "EPSG:5941", (298_000.0, 6_700_000.0), "ETRS89", "32N", "NN2000")


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
        days: on how many days they were flown, in turn.
        more: what else stands in the specification.
    """

    name: str
    scene: Scene = field(default_factory=Ground)
    site: Site = FLORIDA
    layout: Layout = field(default_factory=Layout)
    density: float = 4.0
    finish: Callable[[SurveyBuilder], object] = lambda survey: survey
    run: tuple[tuple[str, str], ...] = ()
    flights: int = 1
    days: int = 1
    more: str = ""


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


def make_job(bench: JobBench, honest: Honest) -> SurveyBuilder:
    """Work through the whole job up to its audit; return the survey in `out`."""
    site = honest.site
    text = SPECIFICATION.format(
        horizontal=site.horizontal,
        vertical=site.vertical,
        unit=site.unit,
        density=honest.density,
    )
    bench.write("job.toml", (text + honest.more).encode())
    rig = write_options(RIG)
    assert bench.run("record", "rig", *rig).status == 0
    flights = [f"F{number + 1}" for number in range(honest.flights)]
    for number, name in enumerate(flights):
        bench.write(f"raw/{name}/capture.bin", f"capture of {name}\0".encode() * 999)
        assert bench.run("register", f"raw/{name}", "--flight", name).status == 0
        values = {**FLIGHT, "frame": site.frame, "base_mark": f"M-{name}"}
        values |= _time(number, honest.days)
        ran = bench.run("record", "flight", name, *write_options(values))
        assert ran.status == 0, ran.err
    scene = _make_scene(honest.scene, site)
    survey = SurveyBuilder(bench.job / "out", honest.layout, scene)
    honest.finish(survey)
    survey_points(bench, site, scene)
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
    ran = bench.run("record", "out", *inputs, *write_options(values))
    assert ran.status == 0, ran.err
    return survey


def survey_points(bench: JobBench, site: Site, scene: Scene) -> None:
    """Record the checkpoints of an honest rover: a centimetre, on the ground, by another base."""
    points = spread_points(scene, _CHECKPOINTS, noise=_ROVER_M / site.metres)
    lines = [
        f"# coordinate system: {site.horizontal}; heights: {site.vertical}; unit: {site.unit}",
        "# base: network service; geoid: model-A",
        "point,easting,northing,elevation",
        *(f"{each.id},{each.east},{each.north},{each.height}" for each in points),
    ]
    bench.write("control/checks.csv", "\n".join([*lines, ""]).encode())
    said = {"role": "checkpoints", "sigma_vertical": "0.01", "surveyed": "2026-05-03"}
    ran = bench.run("record", "points", "control/checks.csv", *write_options(said))
    assert ran.status == 0, ran.err


def _time(number: int, days: int) -> dict[str, str]:
    """Return when a flight was flown: the days in turn, an hour after the one before."""
    day = f"2026-05-{4 + number % days:02d}"
    hour = 14 + number // days
    return {"takeoff": f"{day}T{hour}:00:00Z", "landing": f"{day}T{hour}:18:00Z"}


def write_options(values: dict[str, str]) -> list[str]:
    """Return the words that set values of a form on a command line."""
    return [word for key, value in values.items() for word in ("--set", f"{key}={value}")]
