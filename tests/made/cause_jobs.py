"""Whole jobs with one hidden mistake each, to see what the diagnosis makes of them.

A mistake is planted by computing where a program that makes it would put each point of the ground;
the cloud's height at a checkpoint is then that of the ground at the place that came to lie there.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from pathlib import Path

import numpy as np
from cause_sites import REGIONS, Floats, Site, find_geod, find_way, make_site

from ledger.contract.evidence import Evidence
from ledger.crs import describe
from ledger.fixity import read_fixity
from ledger.model.artefact import FileRecord
from ledger.model.fieldlogs import FieldLogs, LogFile, Track
from ledger.model.known import KnownValue
from ledger.model.process import Card
from ledger.model.sitegeoid import SiteGeoid
from ledger.model.specification import Specification
from ledger.testing import make_evidence
from lidar_checks.ground.causes.observed import Observed

EPOCH, TAKEOFF, JOB_EPOCH = 2026.36, "2026-05-12T14:00:00Z", 2010.0
NONE, UNKNOWN = "none", "unknown"
_COMMON_M = 0.003
_SLOPE_SIGMA = 0.005
_FOOT, _SURVEY_FOOT = 0.3048, 1200 / 3937
_RADIUS_M = 6_371_000.0


@dataclass(frozen=True)
class Field:
    """What the field side of a job is like.

    Args:
        antenna_m: height of the base antenna.
        arm_m: vertical lever arm of the aircraft's antenna.
        other_arm_m: of the scanner's own.
        receiver_m: geoid height that the receiver uses.
        model_error_m: true geoid less that of the grid.
    """

    antenna_m: float
    arm_m: float
    other_arm_m: float
    receiver_m: float
    model_error_m: float


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
    """

    region: str
    mistake: str
    right: str
    observed: Observed
    evidence: Evidence
    lift: Floats
    shift: Floats


Move = Callable[[Site, Field], Floats]


def _up(heights: Callable[[Site, Field], Floats | float]) -> Move:
    def move(site: Site, field: Field) -> Floats:
        lifted = np.broadcast_to(heights(site, field), site.east.shape)
        return np.column_stack([np.zeros((len(site.east), 2)), lifted])

    return move


def _flat(factors: Callable[[Site], Floats]) -> Move:
    """Return a move in plan about the middle of the site."""

    def move(site: Site, field: Field) -> Floats:
        places = np.column_stack([site.east, site.north])
        moved = (places - places.mean(axis=0)) @ factors(site).T
        return np.column_stack([moved, np.zeros(len(places))])

    return move


def _true(site: Site, field: Field) -> Floats:
    return site.sample(site.grid) + field.model_error_m


def _scale_places(factor: float) -> Move:
    def move(site: Site, field: Field) -> Floats:
        return np.column_stack([site.east, site.north, 0 * site.east]) * (factor - 1)

    return move


def _project(site: Site) -> tuple[float, float]:
    """Return combined factor and convergence (radians), by moving a point 10 m to the north."""
    lon, lat = site.lonlat
    way = find_way(site.region.crs)
    step = 1e-4
    east, north = way.transform(
        np.array([lon.mean(), lon.mean()]),
        np.array([lat.mean() - step, lat.mean() + step]),
        direction="INVERSE",
    )
    on_map = float(np.hypot(east[1] - east[0], north[1] - north[0]))
    _, _, on_earth = find_geod(site.region.crs).inv(
        lon.mean(), lat.mean() - step, lon.mean(), lat.mean() + step
    )
    height = float((site.height + site.sample(site.grid)).mean())
    turn = -float(np.arctan2(east[1] - east[0], north[1] - north[0]))
    return on_map / on_earth * _RADIUS_M / (_RADIUS_M + height), turn


def _ground_scale(site: Site) -> Floats:
    return np.eye(2) * (1 / _project(site)[0] - 1)


def _true_north(site: Site) -> Floats:
    """Return what turns a point from grid bearing to true bearing on paper: clockwise."""
    turn = _project(site)[1]
    return np.array([[0.0, turn], [-turn, 0.0]])


def _bend(site: Site, field: Field) -> Floats:
    places = np.column_stack([site.east, site.north])
    away = ((places - places.mean(axis=0)) ** 2).sum(axis=1)
    return np.asarray(-away / (2 * _RADIUS_M))


@dataclass(frozen=True)
class Mistake:
    """One mistake.

    Args:
        name: for the table.
        right: id of its prediction, or its first word.
        move: where it puts the points.
        needs_frame: it takes a frame with a registered way to ITRF2020.
        is_pattern: it shows in how residuals change, not in their mean.
    """

    name: str
    right: str
    move: Move
    needs_frame: bool = False
    is_pattern: bool = False


def _heights_of(move: Move) -> Move:
    return lambda site, field: move(site, field) * np.array([0.0, 0.0, 1.0])


def _itrf(site: Site, field: Field) -> Floats:
    return site.move_to(EPOCH)


MISTAKES = (
    Mistake("ellipsoidal heights", "geoid-plus", _up(_true)),
    Mistake("geoid taken off twice", "geoid-minus", _up(lambda s, f: -_true(s, f))),
    Mistake("geoid added", "geoid-twice", _up(lambda s, f: 2 * _true(s, f))),
    Mistake("another geoid", "other-geoid", _up(lambda s, f: s.sample(s.grid) - s.sample(s.other))),
    Mistake(
        "receiver's altitude",
        "receiver-altitude",
        _up(lambda s, f: s.sample(s.grid) - f.receiver_m),
    ),
    Mistake("frame not transformed", "frame-kept", _itrf, needs_frame=True),
    Mistake("frame transformed twice", "frame-twice", lambda s, f: -_itrf(s, f), needs_frame=True),
    Mistake("heights in another frame", "frame-of-heights", _heights_of(_itrf), needs_frame=True),
    Mistake(
        "epoch left out", "epoch", lambda s, f: s.move_to(EPOCH, back=JOB_EPOCH), needs_frame=True
    ),
    Mistake("survey feet read as others", "foot-kind survey", _scale_places(_FOOT / _SURVEY_FOOT)),
    Mistake(
        "feet read as survey feet", "foot-kind international", _scale_places(_SURVEY_FOOT / _FOOT)
    ),
    Mistake("heights in feet", "heights-times-3.28", _up(lambda s, f: s.height * (1 / _FOOT - 1))),
    Mistake("antenna height left out", "antenna-omitted", _up(lambda s, f: -f.antenna_m)),
    Mistake("antenna height doubled", "antenna-doubled", _up(lambda s, f: f.antenna_m)),
    Mistake("arm of the other antenna", "arm-of-other", _up(lambda s, f: f.arm_m - f.other_arm_m)),
    Mistake("arm with the wrong sign", "arm-reversed", _up(lambda s, f: 2 * f.arm_m)),
    Mistake("ground distances", "ground-scale", _flat(_ground_scale), is_pattern=True),
    Mistake("true north", "true-north", _flat(_true_north), is_pattern=True),
    Mistake(
        "one geoid value",
        "single-geoid-value",
        _up(lambda s, f: s.sample(s.grid) - s.sample(s.grid).mean()),
        is_pattern=True,
    ),
    Mistake("flat local frame", "flat-frame", _up(_bend), is_pattern=True),
)
NO_MISTAKE = Mistake(NONE, "", _up(lambda s, f: 0.0))
BY_NAME: Mapping[str, Mistake] = {each.name: each for each in MISTAKES}


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
    shift = mistake.move(site, field)
    if second is not None:
        shift = shift + second.move(site, field)
    observed, lift = _observe(site, shift, random)
    evidence = _make_evidence(site, field)
    return MadeJob(region.name, mistake.name, mistake.right, observed, evidence, lift, shift)


def make_unknown_job(seed: int, folder: Path) -> MadeJob:
    """Return a job whose cloud lies off by a length that nothing on record explains."""
    size = np.random.default_rng((seed, 77)).uniform(0.06, 3.0) * (1 if seed % 2 else -1)
    return make_job(Mistake(UNKNOWN, "", _up(lambda s, f: size)), seed, folder)


def _make_field(site: Site, random: np.random.Generator) -> Field:
    geoid = float(site.sample(site.grid).mean())
    off = random.uniform(0.1, 1.5) * random.choice([-1, 1])
    return Field(
        antenna_m=round(random.uniform(1.1, 2.1), 3),
        arm_m=round(random.uniform(0.1, 0.35), 3),
        other_arm_m=round(random.uniform(0.02, 0.09), 3),
        receiver_m=round(geoid + off, 1),
        model_error_m=random.normal(0, site.region.sigma_m),
    )


def _observe(site: Site, shift: Floats, random: np.random.Generator) -> tuple[Observed, Floats]:
    """Return the residuals, and what the mistake alone does to the heights."""
    count = len(site.east)
    noise, common = random.uniform(0.01, 0.05), random.normal(0, _COMMON_M, 3)
    east, north = site.east - shift[:, 0], site.north - shift[:, 1]
    lift = site.ground(east, north) + shift[:, 2] - site.height
    nothing = np.full(count, np.nan)
    measured = random.random() < 0.5
    plan = shift[:, :2] + common[:2] + random.normal(0, noise, (count, 2))
    return Observed(
        ids=tuple(f"C{number + 1:02d}" for number in range(count)),
        east=site.east,
        north=site.north,
        height=site.height,
        dz=lift + common[2] + random.normal(0, noise, count),
        dx=plan[:, 0] if measured else nothing,
        dy=plan[:, 1] if measured else nothing,
        gradient=_find_gradient(site, east, north) + random.normal(0, _SLOPE_SIGMA, (count, 2)),
        gradient_sigma=_SLOPE_SIGMA,
    ), lift


def _find_gradient(site: Site, east: Floats, north: Floats) -> Floats:
    half = 0.5
    ways = ((half, 0.0), (0.0, half))
    rises = [site.ground(east + x, north + y) - site.ground(east - x, north - y) for x, y in ways]
    return np.column_stack(rises) / (2 * half)


def _make_evidence(site: Site, field: Field) -> Evidence:
    paths = (site.grid.path, site.other.path)
    geoids = [SiteGeoid(read_fixity(path).sha256, str(path)) for path in paths]
    coordinates = {
        "horizontal": site.region.crs,
        "vertical": "orthometric",
        "epoch": JOB_EPOCH,
        "geoid": {"name": paths[0].stem, "file": paths[0].name},
    }
    arms = {
        f"rig.lever_arm_{name}": KnownValue(["0.1", "0.0", str(down)], "m")
        for name, down in (("aircraft", field.arm_m), ("scanner", field.other_arm_m))
    }
    log = LogFile("flight/nmea.txt", "", "flight-log")
    told = Track(log, "sentences", separation_m=(Decimal(str(field.receiver_m)),) * 2)
    return make_evidence(
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
                    "flight.base_height": KnownValue(str(field.antenna_m), "m"),
                    "flight.base_height_kind": KnownValue("vertical"),
                },
            ),
        ),
        rigs=(
            _make_card(
                "G1", {**arms, "rig.lever_arm_convention": KnownValue("forward-right-down")}
            ),
        ),
        logs=FieldLogs(tracks=(told,)),
    )


def _make_card(name: str, values: dict[str, KnownValue]) -> Card:
    return Card(name, "", 1, TAKEOFF, "pilot", values)
