"""A job with everything on record and in order, and what of it a test spoils.

Walked through the real commands, so that what a form asks, what the book keeps and what a check
reads are one thing.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
import pyproj
import sound_records
from job_bench import JobBench
from made_logfiles import FIRST_PASS, Logs, write_geoid

from ledger.sighting import draft_copies
from ledger.store.writing import BookWriter
from ledger.testing import Layout, Scene, SurveyBuilder
from ledger.volumes import Volume

FLIGHT = {
    **sound_records.FLIGHT,
    "frame": "NAD83(2011)",
    "scanner_time_scale": "GPS",
    "log_time_scale": "GPS",
    "height_above_ground": "45",
    "speed": "5",
    "takeoff": "2026-05-12T14:00:00Z",
    "landing": "2026-05-12T14:18:00Z",
    "capture_started": "2026-05-12T13:59:00Z",
    "capture_ended": "2026-05-12T14:19:00Z",
}
RUN = {
    **sound_records.RUN,
    "crs": "EPSG:6346",
    "zone": "17N",
    "scale_basis": "grid",
    "range_max": "90",
    "scan_angle_max": "50",
    "thinning": "none",
    "control_used": "yes",
    "frame": "NAD83(2011)",
    "geoid_name": "GEOID18",
    "geoid_file": "geoid.gtx",
    "exit_status": "0",
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
        bench.ask("record", "rig", *_set(sound_records.RIG))
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
