"""What the demo makes up is there, and what it says is planted is in the files."""

from __future__ import annotations

import csv
import math
import re
import subprocess
import tomllib
from itertools import groupby
from pathlib import Path

import pytest
import tifffile

from ledger.contract.registry import build_registry


@pytest.fixture
def job(walked: tuple[Path, subprocess.CompletedProcess[str]]) -> Path:
    """Return the job of the demo."""
    folder, done = walked
    assert done.returncode == 0, done.stderr
    return folder / "QM-0412"


def read_points(path: Path) -> dict[str, tuple[float, float, float]]:
    """Return the points of a table by name: easting, northing, height, metres."""
    lines = [line for line in path.read_text("ascii").splitlines() if not line.startswith("#")]
    return {
        row["id"]: (float(row["easting"]), float(row["northing"]), float(row["height"]))
        for row in csv.DictReader(lines)
    }


def read_fixes(job: Path) -> list[list[str]]:
    """Return the fields of the positions of the flight log."""
    text = (job / "raw" / "flight" / "nmea_0412.txt").read_text("ascii")
    return [line.split(",") for line in text.splitlines() if line[3:6] == "GGA"]


def test_the_site_is_whole(job: Path) -> None:
    """Two runs, 24 tiles sent, checkpoints, base and flight log, two geoid grids, one wish list."""
    for folder in ("out/R1", "out/R2", "deliver"):
        assert len(list((job / folder).glob("tile_*.laz"))) == 24
    assert len(list(job.rglob("job.toml"))) == 1
    assert len(list((job / "raw" / "base").glob("*.26o"))) == 1
    assert len(read_fixes(job)) > 900
    assert len(read_points(job / "raw" / "control" / "checks.csv")) == 14
    assert sorted(path.stem for path in (job / "geoid").iterdir()) == [
        "demo-geoid-A",
        "demo-geoid-B",
    ]


def test_its_wishes_name_only_checks_that_exist(job: Path) -> None:
    """Every section of criteria of the one `job.toml` belongs to a check that is offered."""
    wishes = tomllib.loads((job / "job.toml").read_text(encoding="utf-8"))
    offered = {each.check.id for each in build_registry().checks}
    assert set(wishes["criteria"]) <= offered
    assert wishes["criteria"]


def test_the_stale_tile_was_in_the_first_delivery(job: Path) -> None:
    """The tile that was replaced is the one of the accepted run now, and not that of the other."""
    tile = "tile_14.laz"
    sent = (job / "deliver" / tile).read_bytes()
    assert sent == (job / "out" / "R2" / tile).read_bytes()
    assert sent != (job / "out" / "R1" / tile).read_bytes()


def test_what_is_planted_among_the_points_is_there(job: Path) -> None:
    """K3 lies 2 cm from C09, and the report speaks of the points that there are."""
    control = read_points(job / "raw" / "control" / "control.csv")
    checks = read_points(job / "raw" / "control" / "checks.csv")
    assert math.dist(control["K3"][:2], checks["C09"][:2]) == pytest.approx(0.02, abs=0.001)
    report = (job / "deliver" / "report-draft.md").read_text("ascii")
    stated = re.search(r"n = (\d+)", report)
    assert stated is not None
    assert int(stated[1]) == len(checks)


def test_what_the_receiver_wrote_is_there(job: Path) -> None:
    """14 s of line 6 are float (NMEA 0183, GGA field 6); its geoid is 0.7 m off that of the job.

    The heights of the sentences above the ellipsoid are those of the trajectory all the same.
    """
    fixes = read_fixes(job)
    gaps = [len(list(run)) for fixed, run in groupby(f[6] == "4" for f in fixes) if not fixed]
    assert gaps == [14]
    separation = float(fixes[0][11])
    grid = tifffile.imread(job / "geoid" / "demo-geoid-A.tif")
    assert abs(separation - float(grid.mean())) == pytest.approx(0.7, abs=0.05)
    track = (job / "raw" / "flight" / "track_0412.csv").read_text("ascii").splitlines()[1:]
    assert len(track) == len(fixes)
    for row, fix in list(zip(track, fixes, strict=True))[::100]:
        assert float(row.split(",")[3]) == pytest.approx(float(fix[9]) + separation, abs=0.002)
