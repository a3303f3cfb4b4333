"""A job worked through with one setting wrong: the geoid, the frame, the control.

The survey is invented and lies off Puerto Rico, where two public geoid grids differ by a hand; the
shift between frames is that of the registered operation. Both are worked out here by PROJ alone.
"""

from __future__ import annotations

import shutil
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from honest import FLIGHT, RIG, RUN, write_options
from job_bench import JobBench
from pyproj import Transformer

from ledger.testing import Layout, Scene, SurveyBuilder, spread_points

REAL = Path(__file__).parents[1] / "real"
GEOID_18, GEOID_12B = "us_noaa_g2018p0.tif", "us_noaa_g2012bp0.tif"
ORIGIN = (828_600.0, 2_125_900.0)
SCENE = Scene(columns=3, rows=2, noise=0.008, origin=ORIGIN)
MIDDLE = (ORIGIN[0] + 30.0, ORIGIN[1] + 20.0)
# As long as nothing else in this job, so that one number has one cause.
ARM = "0.112 0.004 0.651"
TAKEOFF, YEAR = "2026-05-12T14:00:00Z", 2026.36

WISHES = f"""
[coordinates]
horizontal = "EPSG:6348"
vertical = "orthometric"
epoch = 2010.0
geoid = {{ name = "GEOID18", version = "1", file = "geoid/{GEOID_18}" }}
unit = {{ horizontal = "metre", vertical = "metre" }}

[criteria.vertical-accuracy]
rmse_max_m = 0.05
"""


class Work:
    """One job, worked through by command."""

    def __init__(self, bench: JobBench) -> None:
        """Start it: what is asked, both grids, rig, flight, and a survey that is right."""
        self.bench = bench
        bench.write("job.toml", WISHES.encode())
        (bench.job / "geoid").mkdir(parents=True, exist_ok=True)
        for name in (GEOID_18, GEOID_12B):
            shutil.copyfile(REAL / name, bench.job / "geoid" / name)
        bench.ask("register", "geoid")
        bench.write("raw/scan.bin", b"\0scan")
        bench.ask("register", "raw", "--flight", "F1")
        bench.ask("record", "rig", *write_options({**RIG, "lever_arm_aircraft": ARM}))
        flown = {**FLIGHT, "takeoff": TAKEOFF, "frame": "NAD83(2011)"}
        bench.ask("record", "flight", "F1", *write_options(flown))
        self.survey = SurveyBuilder(bench.job / "out", Layout(crs="EPSG:6348+6641"), SCENE)

    def move(self, east: float = 0.0, north: float = 0.0, up: float = 0.0) -> None:
        """Move the whole cloud."""
        for path in self.survey.paths:
            self.survey.shift(path.stem, east, north, up)

    def record(self, **changed: str) -> None:
        """Record the run that made it."""
        run = {**RUN, "lever_arm": ARM, "crs": "EPSG:6348", "zone": "19N", "frame": "NAD83(2011)"}
        run |= {"geoid_name": "GEOID18", "geoid_file": f"geoid/{GEOID_18}", **changed}
        inputs = ["--input", "F1"]
        if changed.get("control_used"):
            inputs += ["--input", "control/control.csv"]
        self.bench.ask("record", "out", *inputs, *write_options(run))

    def set_points(self, role: str, rows: Sequence[str]) -> None:
        """Record a table of points on the true ground."""
        head = "# crs: EPSG:6348; heights: orthometric, GEOID18; unit: metre; surface: bare"
        columns = "id,easting,northing,height,cloud_east,cloud_north"
        text = "\n".join([head, columns, *rows, ""])
        self.bench.write(f"control/{role}.csv", text.encode())
        said = {"role": role, "sigma_vertical": "0.01"}
        self.bench.ask("record", "points", f"control/{role}.csv", *write_options(said))

    def find(self, check: str) -> list[dict[str, Any]]:
        """Return what an audit finds by a check, the grave first; it may not be sent."""
        told = self.bench.ask("audit", "out", status=1)
        assert told["verdict"] == "do not send"
        self.findings = told["findings"]
        return [each for each in self.findings if each["check"] == check]


@pytest.fixture
def work(bench: JobBench) -> Work:
    """Return a job as it is before its run is recorded."""
    return Work(bench)


def write_rows(east: float = 0.0, north: float = 0.0) -> list[str]:
    """Return rows of 14 checkpoints, whose targets lie so far off in the cloud."""
    noise = np.random.default_rng(5).normal(0.0, 0.006, (14, 2))
    return [
        f"{p.id},{p.east},{p.north},{p.height},{float(p.east) + east + e:.4f},"
        f"{float(p.north) + north + n:.4f}"
        for p, (e, n) in zip(spread_points(SCENE, 14, noise=0.005), noise, strict=True)
    ]


def sample(name: str) -> float:
    """Return the height of a geoid at the site, by PROJ."""
    lon, lat = Transformer.from_crs(6348, 6318, always_xy=True).transform(*MIDDLE)
    shift = Transformer.from_pipeline(f"+proj=vgridshift +grids={REAL / name} +multiplier=1")
    return float(shift.transform(lon, lat, 0.0, radians=False)[2])


def compute_frame_shift() -> tuple[float, float, float]:
    """Return how far coordinates of ITRF2020 lie from those of NAD83(2011) here, by PROJ."""
    lon, lat = Transformer.from_crs(6348, 6318, always_xy=True).transform(*MIDDLE)
    into = Transformer.from_crs("EPSG:6319", "EPSG:9989", always_xy=True)
    moved = into.transform(lon, lat, 0.0, YEAR)
    onto = Transformer.from_crs(6318, 6348, always_xy=True)
    east, north = onto.transform(moved[0], moved[1])
    return east - MIDDLE[0], north - MIDDLE[1], moved[2]


def test_heights_by_another_geoid(work: Work) -> None:
    """Told by the grid's bytes and heights alone; with checkpoints, also by what they show."""
    # H = h - N: heights by the other grid lie lower by as much as that grid lies higher.
    off = sample(GEOID_18) - sample(GEOID_12B)
    assert abs(off) > 0.1
    work.move(up=off)
    work.record(geoid_file=f"geoid/{GEOID_12B}", geoid_name="GEOID12B")
    (told,) = [each for each in work.find("height-chain") if each["grade"] == "major"]
    assert "VD-04" in told["catalogue"]
    most = float(told["sentence"].split("differ by up to ")[1].split(" m")[0])
    assert most == pytest.approx(abs(off), abs=0.005)

    work.set_points("checkpoints", write_rows())
    (cause,) = [each for each in work.find("named-cause") if each["grade"]]
    assert (cause["grade"], cause["catalogue"]) == ("major", ["VD-04"])
    assert f"geoid/{GEOID_12B} were used" in cause["sentence"]
    assert float(cause["observed"]) == pytest.approx(off, abs=0.01)
    sentence = next(f for f in work.findings if f["check"] == "accuracy-statement")
    assert sentence["sentence"].startswith("No accuracy may be stated")


def test_a_frame_that_was_not_transformed(work: Work) -> None:
    """Positions of satellites delivered as those of the plate: named with their direction."""
    east, north, up = compute_frame_shift()
    work.move(east, north, up)
    work.record()
    work.set_points("checkpoints", write_rows(east, north))
    (cause,) = [each for each in work.find("named-cause") if each["grade"]]
    assert cause["grade"] == "major"
    assert "CR-02" in cause["catalogue"]
    assert "VD-01" not in cause["catalogue"]
    assert "ITRF2020 coordinates were delivered as NAD83(2011)" in cause["sentence"]
    assert work.findings[0]["check"] in ("named-cause", "height-chain")


def test_checkpoints_that_were_control(work: Work) -> None:
    """Four of fourteen were fitted to; what is left is computed on ten."""
    rows = write_rows()
    work.set_points("control", [rows[n] for n in (0, 3, 8, 13)])
    work.set_points("checkpoints", rows)
    work.record(control_used="yes")
    told = [f for f in work.find("checkpoint-independence") if f["grade"] == "major"]
    assert [each["catalogue"] for each in told] == [["CP-01", "SC-21"]]
    assert "4 of 14 checkpoints were also used as control by R1" in told[0]["sentence"]
    assert "On the other 10 the RMSE of heights is 0.0" in told[0]["sentence"]
