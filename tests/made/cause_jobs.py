"""Whole jobs with one hidden mistake each, to see what the diagnosis makes of them.

The cloud's height at a checkpoint is that of the ground at the place that a mistake moved there.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from decimal import Decimal
from pathlib import Path

import numpy as np
import pyproj
from cause_flights import (
    MadeFlight,
    Passes,
    Turn,
    make_flight,
)
from cause_mistakes import JOB_EPOCH, TAKEOFF, UNKNOWN, Field, Mistake, find_slant, up
from cause_sites import REGIONS, Floats, Site, find_geod, find_way, make_site
from made_cloud import make_header

from ledger.contract.evidence import Evidence
from ledger.crs import describe
from ledger.fixity import read_fixity
from ledger.model.artefact import FileRecord
from ledger.model.fieldlogs import BaseLog, FieldLogs, LogFile, Track
from ledger.model.known import KnownValue
from ledger.model.process import Card
from ledger.model.sitegeoid import SiteGeoid
from ledger.model.specification import Specification
from ledger.model.surveypoints import PointTable
from ledger.testing import make_evidence, make_file, make_point, make_table
from lidar_checks.ground.causes.observed import Observed

_COMMON_M = 0.003
_SLOPE_SIGMA = 0.005


@dataclass(frozen=True, eq=False)
class MadeJob:
    """One job.

    Args:
        region: where.
        mistake: what is hidden in it.
        right: id of the prediction that is right; empty for none.
        observed: its residuals.
        evidence: what its records say.
        lift: what the mistake alone does to the heights, (n,).
        shift: how far the mistake moves points, metres, (n, 3).
        amount: radians or seconds of what turns with the aircraft; 0 for what has neither.
    """

    region: str
    mistake: str
    right: str
    observed: Observed
    evidence: Evidence
    lift: Floats
    shift: Floats
    amount: float = 0.0


def make_job(mistake: Mistake, seed: int, folder: Path, second: Mistake | None = None) -> MadeJob:
    """Return a job with a mistake; with two where a second is given.

    Args:
        mistake: what is hidden.
        seed: start of the random numbers.
        folder: for geoid grids.
        second: another mistake on top.
    """
    random = np.random.default_rng((seed, sum(map(ord, mistake.name))))
    needs_frame = mistake.needs_frame or (second is not None and second.needs_frame)
    regions = [each for each in REGIONS if each.frame or not needs_frame]
    region = regions[random.integers(len(regions))]
    site = make_site(region, random, int(random.integers(5, 41)), folder)
    field = _make_field(site, random)
    flight = make_flight(site, seed)
    shift = mistake.move(site, field)
    if second is not None:
        shift = shift + second.move(site, field)
    moved = _move(site, shift, flight.passes, mistake.turn and mistake.turn(field))
    observed = replace(_observe(site, moved, random), passes=flight.list_passes(len(site.east)))
    evidence = _make_evidence(site, field, flight, is_slant=mistake.is_slant)
    return MadeJob(
        *(region.name, mistake.name, mistake.right),
        observed=observed,
        evidence=evidence,
        lift=moved.lift,
        shift=moved.shift,
        amount=mistake.amount(field),
    )


def make_unknown_job(seed: int, folder: Path) -> MadeJob:
    """Return a job whose cloud lies off by a length that nothing on record explains."""
    size = np.random.default_rng((seed, 77)).uniform(0.06, 3.0) * (1 if seed % 2 else -1)
    return make_job(Mistake(UNKNOWN, "", up(lambda s, f: size)), seed, folder)


def _make_field(site: Site, random: np.random.Generator) -> Field:
    geoid = float(site.sample(site.grid).mean())
    off = random.uniform(0.1, 1.5) * random.choice([-1, 1])
    return Field(
        antenna_m=round(random.uniform(1.1, 2.1), 3),
        arm_m=round(random.uniform(0.1, 0.35), 3),
        other_arm_m=round(random.uniform(0.02, 0.09), 3),
        receiver_m=round(geoid + off, 1),
        model_error_m=random.normal(0, site.region.sigma_m),
        ahead_m=round(random.uniform(0.05, 0.4) * random.choice([-1, 1]), 3),
        right_m=round(random.uniform(-0.15, 0.15), 3),
        other_ahead_m=round(random.uniform(-0.05, 0.05), 3),
        other_right_m=round(random.uniform(-0.05, 0.05), 3),
        centre_m=round(random.uniform(0.05, 0.16), 3),
        radius_m=round(random.uniform(0.08, 0.17), 3),
        base_off_m=_draw_base(random),
        angle_rad=float(np.radians(random.uniform(0.03, 0.4) * random.choice([-1, 1]))),
        lag_s=float(random.uniform(0.01, 0.15) * random.choice([-1, 1])),
    )


def _draw_base(random: np.random.Generator) -> tuple[float, float, float]:
    """Return how far a receiver's own first position is off."""
    east, north, up = random.normal(0, 1.0, 3) * (1.0, 1.0, 1.8)
    return round(float(east), 3), round(float(north), 3), round(float(up), 3)


@dataclass(frozen=True, eq=False)
class _Moved:
    """What a mistake does to the cloud at the points.

    Args:
        shift: how far it moves points, the mean of all passes, metres, (n, 3).
        lift: what it does to the heights of the cloud, (n,).
        gradient: rise of the cloud, (n, 2).
    """

    shift: Floats
    lift: Floats
    gradient: Floats


def _move(site: Site, shift: Floats, passes: Passes, turn: Turn | None) -> _Moved:
    """Return the cloud at the points as the mean over their passes, each moved by itself."""
    count, at = len(site.east), passes.point
    off, up = shift[at, 0] + 1j * shift[at, 1], shift[at, 2]
    if turn is not None:
        turned = turn(passes)
        off, up = off + turned[0], up + turned[1]
    east, north = site.east[at] - off.real, site.north[at] - off.imag
    height = site.ground(east, north) + up - site.height[at]
    gradient = _find_gradient(site, east, north)

    def average(values: Floats) -> Floats:
        return passes.average(values, count)

    return _Moved(
        shift=np.column_stack([average(off.real), average(off.imag), average(up)]),
        lift=average(height),
        gradient=np.column_stack([average(gradient[:, 0]), average(gradient[:, 1])]),
    )


def _observe(site: Site, moved: _Moved, random: np.random.Generator) -> Observed:
    """Return the residuals."""
    count, shift = len(site.east), moved.shift
    noise, common = random.uniform(0.01, 0.05), random.normal(0, _COMMON_M, 3)
    nothing = np.full(count, np.nan)
    measured = random.random() < 0.5
    plan = shift[:, :2] + common[:2] + random.normal(0, noise, (count, 2))
    return Observed(
        ids=tuple(f"C{number + 1:02d}" for number in range(count)),
        east=site.east,
        north=site.north,
        height=site.height,
        dz=moved.lift + common[2] + random.normal(0, noise, count),
        dx=plan[:, 0] if measured else nothing,
        dy=plan[:, 1] if measured else nothing,
        gradient=moved.gradient + random.normal(0, _SLOPE_SIGMA, (count, 2)),
        gradient_sigma=_SLOPE_SIGMA,
    )


def _find_gradient(site: Site, east: Floats, north: Floats) -> Floats:
    half = 0.5
    ways = ((half, 0.0), (0.0, half))
    rises = [site.ground(east + x, north + y) - site.ground(east - x, north - y) for x, y in ways]
    return np.column_stack(rises) / (2 * half)


def _make_base(site: Site, field: Field) -> tuple[BaseLog, PointTable]:
    """Return the log of a base in the middle of the site, and the table with its mark."""
    east, north = round(float(site.east.mean()), 3), round(float(site.north.mean()), 3)
    height = round(float(site.height.mean()), 3)
    off = field.base_off_m
    lon, lat = find_way(site.region.crs).transform(east + off[0], north + off[1])
    geoid = float(site.grid.sample(np.array([lon]), np.array([lat]))[0])
    geod = find_geod(site.region.crs)
    cart = pyproj.Transformer.from_pipeline(f"+proj=cart +a={geod.a} +rf={1 / geod.f}")
    x, y, z = cart.transform(lon, lat, height + geoid + off[2])
    position = (Decimal(f"{x:.4f}"), Decimal(f"{y:.4f}"), Decimal(f"{z:.4f}"))
    log = BaseLog(LogFile("raw/base.obs", "b" * 64, "base-log", "F1"), position_m=position)
    declared = {"horizontal": site.region.crs, "vertical": "orthometric", "unit_horizontal": "m"}
    mark = make_point("M1", east, north, height)
    return log, make_table([mark], "control", "control/marks.csv", declared)


def _make_evidence(site: Site, field: Field, flight: MadeFlight, *, is_slant: bool) -> Evidence:
    paths = (site.grid.path, site.other.path)
    geoids = [SiteGeoid(read_fixity(path).sha256, str(path)) for path in paths]
    coordinates = {
        "horizontal": site.region.crs,
        "vertical": "orthometric",
        "epoch": JOB_EPOCH,
        "geoid": {"name": paths[0].stem, "file": paths[0].name},
    }
    arms = {
        f"rig.lever_arm_{name}": KnownValue([str(part) for part in parts], "m")
        for name, parts in (
            ("aircraft", (field.ahead_m, field.right_m, field.arm_m)),
            ("scanner", (field.other_ahead_m, field.other_right_m, field.other_arm_m)),
        )
    }
    height = {
        "flight.base_height": KnownValue(str(field.antenna_m), "m"),
        "flight.base_height_kind": KnownValue("vertical"),
    }
    if is_slant:
        height = {
            "flight.base_height": KnownValue(f"{find_slant(field):.4f}", "m"),
            "flight.base_height_kind": KnownValue("slant"),
            "flight.base_antenna_radius": KnownValue(str(field.radius_m), "m"),
            "flight.base_antenna_offset": KnownValue("0", "m"),
        }
    base, marks = _make_base(site, field)
    log = LogFile("flight/nmea.txt", "", "flight-log")
    told = Track(log, "sentences", separation_m=(Decimal(str(field.receiver_m)),) * 2)
    return make_evidence(
        make_file("tile.laz", header=make_header()),
        specification=Specification.model_validate({"coordinates": coordinates}),
        specified_crs=describe(site.region.crs),
        geoid_sha256=geoids[0].sha256,
        geoid_grid=geoids[0].path,
        geoids={each.sha256: each for each in geoids},
        registered={
            each.sha256: FileRecord(Path(each.path).name, each.sha256, 1, 1, "geoid")
            for each in geoids
        },
        flights=(
            _make_card(
                "F1",
                {
                    "flight.takeoff": KnownValue(TAKEOFF),
                    "flight.rig": KnownValue("G1"),
                    "flight.position_source": KnownValue("aircraft receiver"),
                    "flight.base_mark": KnownValue("M1"),
                    "flight.base_phase_centre": KnownValue(str(field.centre_m), "m"),
                    **height,
                },
            ),
        ),
        rigs=(
            _make_card(
                "G1", {**arms, "rig.lever_arm_convention": KnownValue("forward-right-down")}
            ),
        ),
        tables=(marks,),
        logs=FieldLogs(bases=(base,), tracks=(told, flight.track)),
    )


def _make_card(name: str, values: dict[str, KnownValue]) -> Card:
    return Card(name, "", 1, TAKEOFF, "pilot", values)
