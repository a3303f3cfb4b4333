"""Every check of ours conforms on a sound job, fails on a spoiled one, and passes nothing unknown.

Through the real commands, so that what a form asks, what the book keeps and what a check reads
are one thing.
"""

from __future__ import annotations

import os
import re
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
import pyproj
import pytest
from job_bench import JobBench
from made_logfiles import FIRST_PASS, Logs, write_geoid

from ledger.contract.registry import build_registry
from ledger.sighting import draft_copies
from ledger.store.writing import BookWriter
from ledger.testing import Layout, Scene, SurveyBuilder
from ledger.volumes import Volume

RIG = {
    "scanner_serial": "SU-07",
    "lever_arm_aircraft": "0.112 0.004 0.231",
    "lever_arm_convention": "forward-right-down",
    "lever_arm_measured": "2026-04-02",
    "bracket": "B-1",
}
FLIGHT = {
    "rig": "G1",
    "platform": "drone",
    "mount_mode": "drone",
    "orientation": "inverted",
    "position_source": "aircraft receiver",
    "scanner_antenna_fitted": "no",
    "height_type": "ellipsoidal",
    "frame": "NAD83(2011)",
    "scanner_time_scale": "GPS",
    "log_time_scale": "GPS",
    "height_above_ground": "45",
    "speed": "5",
    "base_mark": "QM1",
    "base_method": "published",
    "base_kind": "own base",
    "base_height": "1.523",
    "base_height_again": "1.524",
    "takeoff": "2026-05-12T14:00:00Z",
    "landing": "2026-05-12T14:18:00Z",
    "capture_started": "2026-05-12T13:59:00Z",
    "capture_ended": "2026-05-12T14:19:00Z",
}
RUN = {
    "software": "example suite",
    "version": "3.2",
    "mount_mode": "drone",
    "orientation": "inverted",
    "position_source": "aircraft receiver",
    "lever_arm": "0.112 0.004 0.231",
    "lever_arm_from": "aircraft antenna",
    "lever_arm_convention": "forward-right-down",
    "crs": "EPSG:6346",
    "zone": "17N",
    "scale_basis": "grid",
    "range_max": "90",
    "scan_angle_max": "50",
    "thinning": "none",
    "control_used": "yes",
    "frame": "NAD83(2011)",
    "input_height_type": "ellipsoidal",
    "output_height_type": "orthometric",
    "geoid_name": "GEOID18",
    "geoid_version": "1",
    "geoid_file": "geoid.gtx",
    "exit_status": "0",
    "decision": "accepted",
}
WISHES = """
[folders]
copies = 1

[coordinates]
horizontal = "EPSG:6346"
vertical = "orthometric"
vertical_crs = "EPSG:5703"
geoid = { name = "GEOID18", version = "1", file = "geoid.gtx" }
unit = { horizontal = "metre", vertical = "metre" }
scale_basis = "grid"

[delivery]
items = ["tiles"]
boundary = "site.wkt"

[criteria.point-density]
min_pts_per_m2 = 4.0

[criteria.classification]
required = [2]

[criteria.las-content]
versions = ["1.4"]

[criteria.spatial-distribution]
cell_m = 1.0

[criteria.voids]
area_min_m2 = 9.0
[criteria.surface-thickness]
rmsd_max_m = 0.3

[criteria.vertical-accuracy]
rmse_max_m = 0.05

[criteria.horizontal-accuracy]
rmse_max_m = 0.05

[criteria.swath-overlap]
min_share = 0.9

[criteria.roll-misalignment]
fewest_cells = 100

[criteria.mount-steady]
fewest_cells = 100
"""


def lay_out(crs: str) -> Layout:
    """Return a layout with the geoid in the name of the vertical system.

    So the USGS Lidar Base Specification 2025 rev. A asks for it.
    """
    wkt = pyproj.CRS(crs).to_wkt("WKT1_GDAL")
    return Layout(wkt=re.sub(r'VERT_CS\["[^"]+', r"\g<0> - GEOID18", wkt))


DECLARED = "# crs: EPSG:6346; heights: orthometric, GEOID18; unit: metre; base: M-9; surface: bare"
COLUMNS = "id,easting,northing,height,cloud_east,cloud_north,sigma_z,surveyed"
LAYOUT = lay_out("EPSG:6346+5703")
SCENE = Scene(columns=2, rows=2, noise=0.01, first_time=FIRST_PASS - 1e9)
# The square that the scene fills, and one that reaches over it by half.
SITE = "POLYGON ((500000 3100000, 500040 3100000, 500040 3100040, 500000 3100040, 500000 3100000))"
WIDE = SITE.replace("500040", "500060")

SOUND = Logs()

Spoil = Callable[[SurveyBuilder], object]


@dataclass(frozen=True)
class Pole:
    """One surveyed point; metres.

    Args:
        name: its id.
        east, north, height: where it was surveyed.
        off: how far the target was picked to the east of it in the cloud.
        sigma: standard deviation of its height.
    """

    name: str
    east: float
    north: float
    height: float
    off: float
    sigma: float = 0.01

    @property
    def row(self) -> str:
        """Return its row in the table."""
        place = f"{self.east:.3f},{self.north:.3f}"
        picked = f"{self.east + self.off:.3f},{self.north:.3f}"
        return f"{self.name},{place},{self.height:.3f},{picked},{self.sigma},2026-05-10"


def set_poles(first: str = "C", start: float = 3.0, off: float = 0.01) -> list[Pole]:
    """Return 36 points all over the site, so far above and below the ground in turn, metres."""
    axis = [start + 6.8 * step for step in range(6)]
    places = [(500_000 + x, 3_100_000 + y) for x in axis for y in axis]
    ground = SCENE.compute_ground(*np.array(places).T)
    return [
        Pole(f"{first}{n:02d}", x, y, float(z) + off * (-1) ** n, 0.01 * (-1) ** (n // 2))
        for n, ((x, y), z) in enumerate(zip(places, ground, strict=True))
    ]


Survey = Callable[[list[Pole]], list[Pole]]


def leave(_: SurveyBuilder) -> None:
    """Leave a survey as it is."""


def keep_copy(bench: JobBench) -> None:
    """Note a copy of every raw file that was read back from another drive."""
    with BookWriter.open(bench.job) as writer:
        copies = [replace(file, path=f"/usb/{file.path}") for file in writer.files_of_flight("F1")]
        drive = Volume("uuid:usb", "/usb")
        writer.append_all([draft_copies(copies, drive, "technician", past_cache=True)])


def register_elsewhere(bench: JobBench) -> None:
    """Let another job have the same capture."""
    other = bench.base / "other"
    assert bench.run("start", str(other), cwd=bench.base).status == 0
    (other / "raw" / "scan.bin").write_bytes((bench.job / "raw" / "scan.bin").read_bytes())
    assert bench.run("register", "raw", cwd=other).status == 0


@dataclass(frozen=True)
class Job:
    """A job on which everything is on record, and what is spoiled in it.

    Args:
        before: what happens to the tiles before they are recorded.
        after: what happens to them after they were recorded.
        run: settings of the processing run, over those of a sound one.
        second: settings of the run for the first tile, over those of the one before.
        again: values with which the rig is recorded again.
        flight: values of the flight, over those of a sound one.
        assumed: key of a setting that nobody looked up.
        wishes: words of `job.toml` and what stands in their place.
        layout: how the tiles are stored.
        photos: photos of the set-up.
        stated: number of checkpoints that a report states, of 36; empty for no table.
        value: the RMSE that it states, metres.
        surveyed: what is done to the checkpoints.
        control: what is done to the control.
        declared: what the table of checkpoints says of itself.
        patched: whether a tile is made anew after the folder was audited.
        strange: whether a file that nobody registered is used as well.
        afterwards: what happens once the raw files are registered.
        logs: what the logs of the flight say.
        path_apart: whether a run of its own wrote the trajectory.
    """

    before: Spoil = leave
    after: Spoil = leave
    run: tuple[tuple[str, str], ...] = ()
    second: tuple[tuple[str, str], ...] = ()
    again: tuple[tuple[str, str], ...] = ()
    flight: tuple[tuple[str, str], ...] = ()
    assumed: str = ""
    wishes: tuple[str, str] = ("", "")
    layout: Layout = LAYOUT
    strange: bool = False
    photos: int = 3
    stated: str = "36"
    value: str = "0.010"
    surveyed: Survey = list
    control: Survey = list
    declared: str = DECLARED
    patched: bool = False
    afterwards: Callable[[JobBench], object] = keep_copy
    logs: Logs = SOUND
    path_apart: bool = False

    def audit(self, bench: JobBench) -> dict[str, Any]:
        """Walk the job to the JSON of its audit."""
        assert self.wishes[0] in WISHES
        bench.write("job.toml", WISHES.replace(*self.wishes).encode())
        bench.write("site.wkt", SITE.encode())
        bench.write("wide.wkt", WIDE.encode())
        bench.write("away.wkt", SITE.replace("5000", "5010").encode())
        bench.write("geoid.gtx", write_geoid())
        bench.write("raw/scan.bin", b"\x00scan")
        bench.write("raw/base.26o", self.logs.write_base().encode())
        bench.write("raw/nmea.txt", self.logs.write_sentences().encode())
        for number in range(self.photos):
            bench.write(f"raw/photo{number}.png", b"\x89PNG\r\n\x1a\n" + bytes([number]))
        bench.ask("register", "raw", "--flight", "F1")
        self.afterwards(bench)
        bench.ask("record", "rig", *_set(RIG))
        if self.again:
            bench.ask("record", "rig", "G1", *_set(dict(self.again)))
        bench.ask("record", "flight", "F1", *_set({**FLIGHT, **dict(self.flight)}))
        self._survey(bench, "control", self.control(set_poles("K", 1.5)))
        survey = SurveyBuilder(bench.job / "out", self.layout, SCENE)
        self.before(survey)
        run = {**RUN, **dict(self.run)}
        path = bench.write("out/path.csv", self.logs.write_path().encode())
        self._record(bench, run, *survey.paths[1:])
        beside = () if self.path_apart else (path,)
        self._record(bench, {**run, **dict(self.second)}, survey.paths[0], *beside)
        if self.path_apart:
            self._record(bench, {**run, "purpose": "a smoother path"}, path)
        self.after(survey)
        if self.stated:
            self._state(bench)
        if self.patched:
            bench.ask("audit", "out", status=None)
            survey.drop_points(0)
            self._record(bench, {**run, "purpose": "a patch"}, survey.path(0))
        return bench.ask("audit", "out", status=None)

    def _state(self, bench: JobBench) -> None:
        self._survey(bench, "checkpoints", self.surveyed(set_poles()))
        said = {"about": "out", "accuracy": "vertical", "statistic": "RMSE", "value": self.value}
        said |= {"count": self.stated, "checkpoints": "control/checkpoints.csv"}
        bench.ask("record", "statement", *_set(said))

    def _survey(self, bench: JobBench, role: str, points: list[Pole]) -> None:
        rows = [self.declared, COLUMNS, *(each.row for each in points), ""]
        bench.write(f"control/{role}.csv", "\n".join(rows).encode())
        bench.ask("record", "points", f"control/{role}.csv", *_set({"role": role}))

    def _record(self, bench: JobBench, run: dict[str, str], *paths: Path) -> None:
        lines = [f'{key} = "{value}"' for key, value in run.items() if key != self.assumed]
        if self.assumed:
            value = run[self.assumed]
            lines.append(f'{self.assumed} = {{ value = "{value}", known_by = "assumed" }}')
        form = bench.write("run.toml", "\n".join(["[run]", *lines, ""]).encode())
        strange = bench.base / "strange.bin"
        strange.write_bytes(b"\x00of another job")
        more = ("--input", strange) if self.strange else ()
        more = ("--input", bench.job / "control/control.csv", *more)
        bench.ask("record", *paths, "--input", "F1", *more, "--from", form)


def _set(values: dict[str, str]) -> list[str]:
    return [word for key, value in values.items() for word in ("--set", f"{key}={value}")]


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
NO_TABLE = "checkpoints: no file of the role checkpoints is in this job"


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
        again=(("bracket", "B-2"),), flight=(("takeoff", "2090-05-12T14:00:00Z"),)
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
    "unconfirmed-values": Job(assumed="mount_mode"),
    "unit-consistency": Job(layout=lay_out("EPSG:6346+6360")),
    "voids": Job(before=cut_hole),
    "vertical-datum": Job(layout=Layout(crs="EPSG:6346")),
}


def list_ids() -> list[str]:
    """Return the id of every check that is shipped."""
    return sorted(each.check.id for each in build_registry().checks)


def test_every_check_conforms_on_a_sound_job(bench: JobBench) -> None:
    """With everything on record and in order, every check says so, and the folder may be sent."""
    result = Job().audit(bench)
    assert sorted(row["check"] for row in result["conforming"]) == list_ids()
    assert (result["verdict"], [f for f in result["findings"] if f["grade"]]) == ("fit to send", [])


def test_every_check_has_a_fault() -> None:
    """A check that is shipped and that no fault below makes fail would be shipped unproven."""
    assert sorted(FAULTS) == list_ids()


@pytest.mark.parametrize("check", list_ids())
def test_every_check_fails_on_its_fault(bench: JobBench, check: str) -> None:
    """One planted fault is a nonconforming finding of the check that is there for it."""
    result = FAULTS[check].audit(bench)
    found = [f for f in result["findings"] if f["outcome"] == "nonconforming" and f["grade"]]
    assert check in {finding["check"] for finding in found}
    assert "errored" not in {finding["outcome"] for finding in result["findings"]}


def test_nothing_passes_where_nothing_is_there(bench: JobBench) -> None:
    """A folder with one text and a job without a record: no check conforms, and none is silent."""
    bench.write("job.toml", b"")
    bench.write("out/letter.txt", b"as agreed")
    result = bench.ask("audit", "out", status=3)
    assert result["conforming"] == []
    outcomes = {finding["check"]: finding["outcome"] for finding in result["findings"]}
    assert sorted(outcomes) == list_ids()
    assert set(outcomes.values()) == {"not assessed", "inconclusive"}


def test_what_is_not_there_is_named(bench: JobBench) -> None:
    """Tiles alone, without wishes and records: each check that wants them says what it lacks."""
    bench.write("job.toml", b"")
    SurveyBuilder(bench.job / "out", LAYOUT, SCENE)
    result = bench.ask("audit", "out", status=1)
    lacking = {f["check"]: f["needs"] for f in result["findings"] if f["outcome"] == "not assessed"}
    by_records = {
        "base-height",
        "bracket-change",
        "capture-length",
        "flight-times",
        "base-chain",
        "control-chain",
        "export-settings",
        "length-units",
        "range-limits",
        "scale-basis",
        "time-scale",
        "zone-chain",
        "run-agreement",
        "frame-chain",
        "height-chain",
        "late-record",
        "lever-arm-chain",
        "mount-chain",
        "point-balance",
        "position-chain",
        "run-complete",
        "run-inputs",
        "settings-kept",
        "setup-record",
        "software-version",
        "unconfirmed-values",
    }
    by_wishes = {
        "package-items",
        "crs-agrees",
        "las-content",
        "point-density",
        "spatial-distribution",
        "surface-thickness",
        "swath-overlap",
        "unit-consistency",
        "voids",
    }
    by_records |= {
        "base-epochs",
        "base-place",
        "base-antenna",
        "fix-quality",
        "sky-quality",
        "clock-offset",
        "path-pairs",
        "track-jumps",
        "track-times",
        "start-up",
        "flown-as-planned",
        "trajectory-run",
    }
    by_path = ("points-on-lines", "points-in-time", "path-height", "carried-points")
    for check in (*by_path, "range-kept", "points-below", "roll-misalignment", "mount-steady"):
        assert lacking.pop(check) == ["trajectory"]
    assert lacking.pop("base-change") == ["flight-log"]
    assert lacking.pop("receiver-geoid") == ["geoid-grid: coordinates.geoid names no file"]
    by_raw = {"capture-files", "raw-copies", "raw-elsewhere", "raw-unchanged"}
    for check in ("boundary-coverage", "boundary-place"):
        assert lacking.pop(check) == ["boundary: delivery.boundary is blank"]
    by_points = {each for each in lacking if each.startswith("checkpoint-")}
    by_points |= {"accuracy-statement", "blind-areas", "control-fit", "named-cause"}
    for check in by_points:
        assert lacking.pop(check) == [NO_TABLE]
    for check in ("horizontal-accuracy", "vertical-accuracy"):
        assert lacking.pop(check)[0] == NO_TABLE
    assert set(lacking) == by_records | by_wishes | by_raw
    assert all(lacking[check][0].startswith("records") for check in by_records)
    assert all(re.match(r"(specification|criteria)\.", lacking[check][0]) for check in by_wishes)


def test_a_quick_audit_passes_nothing_about_points(bench: JobBench) -> None:
    """Where no point is read, every check that needs points says so, and the rest goes on."""
    SurveyBuilder(bench.job / "out", LAYOUT, SCENE)
    bench.write("job.toml", WISHES.encode())
    bench.write("geoid.gtx", write_geoid())
    result = bench.ask("audit", "out", "--quick", status=3)
    points = {each.check.id for each in build_registry().checks if "points" in each.check.needs}
    lacking = {f["check"] for f in result["findings"] if f["outcome"] == "not assessed"}
    assert points | {"file-readable", "header-extent"} <= lacking
    assert not {row["check"] for row in result["conforming"]} & lacking
