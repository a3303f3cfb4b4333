"""For each check that is shipped a job with one fault that it has to find."""

from __future__ import annotations

import os
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
from made_logfiles import FIRST_PASS, Logs
from sound_job import (
    DECLARED,
    LAYOUT,
    Job,
    Pole,
    lay_out,
    register_elsewhere,
    set_poles,
)
from thinned import thin_survey

from ledger.testing import Layout, SurveyBuilder


def age(survey: SurveyBuilder) -> None:
    """Make the tiles look as if they had been written long before they are recorded."""
    for path in survey.paths:
        os.utime(path, (1_700_000_000, 1_700_000_000))


def raise_all(survey: SurveyBuilder, by: float) -> None:
    """Lift every tile."""
    for path in survey.paths:
        survey.shift_heights(path.stem, by)


def lose_ids(survey: SurveyBuilder) -> None:
    """Let no point say which swath it is of."""
    for path in survey.paths:
        survey.set_field(path.stem, "point_source_id", 0)


def lose_swath(survey: SurveyBuilder) -> None:
    """Leave the second swath out of one tile."""
    survey.keep_points(0, survey.tile(0).points["point_source_id"] == 1)


def lose_crs(survey: SurveyBuilder) -> None:
    """Take the coordinate system out of every tile."""
    for path in survey.paths:
        survey.no_crs(path.stem)


def rewrite_wkt(survey: SurveyBuilder, part: str, other: str) -> None:
    """Write another part into the coordinate system of the first tile."""
    text = LAYOUT.make_wkt()
    assert part in text
    survey.wkt_text(0, text.replace(part, other))


SHIFT = ",TOWGS84[598.1,73.7,418.2,0.202,0.045,-2.455,6.7]"


def end_otherwise(path: Path) -> None:
    """Give a compressed file the ending of one that is not, or the other way round."""
    path.rename(path.with_suffix(".las" if path.suffix == ".laz" else ".laz"))


SHORT_PATHS = "[criteria.package-limits]\npath_max = 1\n\n[criteria.point-density]"
SMALL_TILES = "[delivery]\ntile_size_m = 2.0\n"


def cut_hole(survey: SurveyBuilder) -> None:
    """Leave out the points round the middle of the first tile."""
    points = survey.tile(0).points
    x, y = (float(np.mean(np.asarray(points[axis], dtype=float))) for axis in "xy")
    survey.cut_hole(0, x, y, 5.0)


def alter(poles: list[Pole], place: int, **parts: Any) -> list[Pole]:
    """Return points of which one is another."""
    return [replace(each, **parts) if n == place else each for n, each in enumerate(poles)]


def alter_all(poles: list[Pole], **parts: Any) -> list[Pole]:
    """Return points of which all are another way."""
    return [replace(each, **parts) for each in poles]


def sway(poles: list[Pole]) -> list[Pole]:
    """Return points 5 cm above and below where they were in turn."""
    return [replace(each, height=each.height + 0.05 * (-1) ** n) for n, each in enumerate(poles)]


def lift(survey: SurveyBuilder) -> None:
    """Raise all tiles by 0.1 m."""
    for number in range(len(survey.paths)):
        survey.shift_heights(number, 0.1)


ELLIPSOIDAL = DECLARED.replace("orthometric, GEOID18", "ellipsoidal")


def set_times(survey: SurveyBuilder, seconds: float) -> None:
    """Let the points of the first tile be of one time, some seconds after take-off."""
    survey.set_field(0, "gps_time", FIRST_PASS - 120 - 1e9 + seconds)


def ride_along(survey: SurveyBuilder) -> None:
    """Raise points of the first tile that lie below the path until they ride a metre under it."""
    north = np.asarray(survey.tile(0).points["y"], dtype=float)
    for at in np.flatnonzero(north > 3_100_019.0)[:60].tolist():
        survey.move_point(0, at, dz=44.2)


def roll(survey: SurveyBuilder) -> None:
    """Lift what lies to the right of each pass, as a roll of 0.1 degrees does."""
    for path in survey.paths:
        points = survey.tile(path.stem).points
        north = np.asarray(points["y"], dtype=float) - 3_100_020.0
        # The first pass flies east, the second back.
        right = np.where(np.asarray(points["point_source_id"]) == 1, -north, north)
        survey.set_field(path.stem, "z", points["z"] + right * np.tan(np.radians(0.1)))


def slip(survey: SurveyBuilder) -> None:
    """Tilt what lies in the eastern half of each pass, as a bracket that slips does."""
    for path in survey.paths:
        points = survey.tile(path.stem).points
        north = np.asarray(points["y"], dtype=float) - 3_100_020.0
        right = np.where(np.asarray(points["point_source_id"]) == 1, -north, north)
        after = np.asarray(points["x"], dtype=float) > 500_020.0
        lift = np.where(after, right * np.tan(np.radians(0.3)), 0.0)
        survey.set_field(path.stem, "z", points["z"] + lift)


FAULTS = {
    "mount-steady": Job(before=slip),
    "track-jumps": Job(logs=Logs(jump=15.0)),
    "roll-misalignment": Job(before=roll),
    "base-epochs": Job(logs=Logs(base_hole=20)),
    "base-place": Job(logs=Logs(base_xyz=(832_424.2, -4_921_642.1, 3_957_510.2))),
    "base-antenna": Job(logs=Logs(antenna="")),
    "base-change": Job(logs=Logs(second_station="0002")),
    "fix-quality": Job(logs=Logs(float_s=12)),
    "sky-quality": Job(logs=Logs(satellites=8)),
    "clock-offset": Job(logs=Logs(lag=18.0)),
    "path-pairs": Job(logs=Logs(bend=4.0)),
    "track-times": Job(logs=Logs(hole=10)),
    "start-up": Job(logs=Logs(still=10)),
    "flown-as-planned": Job(flight=(("speed", "4"),)),
    "trajectory-run": Job(path_apart=True),
    "receiver-geoid": Job(logs=Logs(separation=-26.0), run=(("input_height_type", "orthometric"),)),
    "points-on-lines": Job(before=lambda survey: set_times(survey, 70)),
    "points-in-time": Job(before=lambda survey: set_times(survey, 5000)),
    "path-height": Job(flight=(("height_above_ground", "60"),)),
    "carried-points": Job(before=ride_along),
    "range-kept": Job(flight=(("height_above_ground", "100"),)),
    "points-below": Job(before=lambda survey: survey.shift_heights(0, 60.0)),
    "accuracy-statement": Job(value="0.004"),
    "blind-areas": Job(surveyed=lambda poles: poles[:3]),
    "checkpoint-count": Job(surveyed=lambda poles: poles[:29]),
    "checkpoint-independence": Job(control=lambda _: set_poles()[:1]),
    "checkpoint-outliers": Job(surveyed=lambda poles: alter(poles, 7, height=40.0)),
    "checkpoint-quality": Job(surveyed=lambda poles: alter_all(poles, sigma=0.04)),
    "checkpoint-systems": Job(declared=ELLIPSOIDAL),
    "horizontal-accuracy": Job(surveyed=lambda poles: alter_all(poles, off=0.06)),
    "vertical-accuracy": Job(before=lift),
    "attribute-range": Job(before=lambda survey: survey.set_field(0, "intensity", 7)),
    "base-height": Job(flight=(("base_height_again", "1.60"),)),
    "boundary-coverage": Job(wishes=("site.wkt", "wide.wkt")),
    "boundary-place": Job(wishes=("site.wkt", "away.wkt")),
    # Flown after the bracket was changed, which is entered now.
    "bracket-change": Job(
        again=(("bracket", "B-2"),),
        flight=(("takeoff", "2090-05-12T14:00:00Z"), ("landing", "2090-05-12T14:18:00Z")),
    ),
    "capture-files": Job(flight=(("capture_parts", "2"),)),
    "capture-length": Job(flight=(("capture_ended", "2026-05-12T14:16:59Z"),)),
    # Of two points in two rows of tiles one lies in a tile that keeps no ground.
    "checkpoint-patch": Job(
        before=lambda survey: survey.reclassify(0, 2, 1).reclassify(1, 2, 1).reclassify(2, 2, 1)
    ),
    "class-method": Job(before=lambda survey: survey.reclassify(0, None, 1)),
    "classification": Job(before=lambda survey: survey.reclassify(0, None, 1)),
    "coordinate-lattice": Job(before=lambda survey: survey.set_layout(0, scale=0.05)),
    "crs-agrees": Job(wishes=("EPSG:6346", "EPSG:32617")),
    "crs-position": Job(before=lambda survey: survey.swap_axes(0)),
    "crs-present": Job(before=lose_crs),
    "custody-of-points": Job(after=lambda survey: survey.drop_points(0)),
    "double-surfaces": Job(before=lambda survey: survey.shift_swath(2, 0.3)),
    "datum-shift": Job(
        before=lambda survey: rewrite_wkt(survey, ',AUTHORITY["EPSG","1116"]', SHIFT)
    ),
    "density-spread": Job(before=lambda survey: survey.thin(0, 0.1).thin(1, 0.1).thin(2, 0.1)),
    "duplicates": Job(before=lambda survey: survey.duplicate_points(0, 100)),
    "file-names": Job(after=lambda survey: end_otherwise(survey.path(0))),
    "file-readable": Job(before=lambda survey: survey.cut_share(0, 0.7)),
    "flight-times": Job(flight=(("capture_ended", "2026-05-12T14:15:00Z"),)),
    "base-chain": Job(flight=(("base_method", "averaged"),), run=(("control_used", "no"),)),
    "control-fit": Job(control=lambda _: set_poles("K", 1.5, 0.0), surveyed=sway),
    "control-chain": Job(run=(("control_used", "no"),), stated=""),
    "export-settings": Job(run=(("thinning", "smoothing"),)),
    "length-units": Job(flight=(("base_height", "5.0"), ("base_height_again", "5.0"))),
    "range-limits": Job(run=(("range_max", "50"),)),
    "scale-basis": Job(run=(("scale_basis", "ground"),)),
    "tile-edges": Job(before=lambda survey: survey.shift(0, dx=0.5)),
    "time-scale": Job(flight=(("log_time_scale", "UTC"),)),
    "zone-chain": Job(run=(("zone", "18N"),)),
    "flyers": Job(before=lambda survey: survey.move_point(0, 5, dz=60.0)),
    "foot-kind": Job(
        before=lambda survey: rewrite_wkt(
            survey, 'UNIT["metre",1,AUTHORITY["EPSG","9001"]]', 'UNIT["US survey foot",0.3048]'
        )
    ),
    "run-agreement": Job(second=(("range_max", "80"),)),
    "frame-chain": Job(flight=(("frame", "WGS 84"),)),
    "gps-time-kind": Job(before=lambda survey: survey.time_flag(0, adjusted=False)),
    "header-date": Job(before=lambda survey: survey.created(0, None)),
    "ground-density": Job(before=lambda survey: survey.reclassify(0, 2, 1).reclassify(1, 2, 1)),
    "header-counts": Job(before=lambda survey: survey.wrong_return_counts(0, 5, 4, 3)),
    "header-extent": Job(before=lambda survey: survey.wrong_box(0)),
    "header-uniformity": Job(before=lambda survey: survey.set_layout(0, point_format=7)),
    "height-chain": Job(run=(("output_height_type", "ellipsoidal"),)),
    "las-conformance": Job(before=lambda survey: survey.legacy_count(0, 7)),
    "las-content": Job(wishes=('["1.4"]', '["1.2"]')),
    "late-record": Job(before=age),
    "lever-arm-chain": Job(run=(("lever_arm", "0.112 0.004 -0.231"),)),
    "mount-chain": Job(run=(("mount_mode", "hand"),)),
    # Twice the vertical lever arm of the rig: its sign is wrong.
    "named-cause": Job(before=lambda survey: raise_all(survey, 0.462)),
    "noise-classed": Job(before=lambda survey: survey.move_point(0, 0, dz=-30.0)),
    "package-limits": Job(wishes=("[criteria.point-density]", SHORT_PATHS)),
    "package-items": Job(wishes=('["tiles"]', '["tiles", "dtm"]')),
    "point-balance": Job(after=lambda survey: survey.path(1).unlink()),
    "point-density": Job(wishes=("= 4.0", "= 400.0")),
    "point-flags": Job(before=lambda survey: survey.set_flag(0, "withheld", 0.01)),
    "point-source-ids": Job(before=lose_ids),
    "position-chain": Job(run=(("lever_arm_from", "scanner antenna"),)),
    "raw-copies": Job(afterwards=lambda _: None),
    "raw-elsewhere": Job(afterwards=register_elsewhere),
    "raw-unchanged": Job(afterwards=lambda bench: bench.write("raw/scan.bin", b"altered")),
    "replaced-delivery": Job(patched=True),
    "return-numbers": Job(before=lambda survey: survey.zero_returns(0)),
    "run-complete": Job(run=(("exit_status", "1"),)),
    "run-inputs": Job(strange=True),
    "scan-angles": Job(before=lambda survey: survey.set_field(0, "scan_angle", 190.0)),
    "seams": Job(before=lambda survey: survey.shift_heights(0, 0.3)),
    "settings-kept": Job(second=(("orientation", "upright"),)),
    "setup-record": Job(photos=2),
    "statement-support": Job(stated="37"),
    "software-version": Job(second=(("version", "3.3"),)),
    "tile-scheme": Job(wishes=("[delivery]\n", SMALL_TILES)),
    "spatial-distribution": Job(before=lambda survey: survey.thin(0, 0.2)),
    "surface-thickness": Job(wishes=("rmsd_max_m = 0.3", "rmsd_max_m = 0.001")),
    "swath-overlap": Job(before=lose_swath),
    "swath-step": Job(before=lambda survey: survey.shift_swath(2, 0.1)),
    "thinned-points": Job(before=lambda survey: thin_survey(survey, 0.5)),
    "unconfirmed-values": Job(assumed="mount_mode"),
    "unit-consistency": Job(layout=lay_out("EPSG:6346+6360")),
    "voids": Job(before=cut_hole),
    "vertical-datum": Job(layout=Layout(crs="EPSG:6346")),
}
