"""What real geoid grids teach: a missing one, half of one, and another edition."""

from __future__ import annotations

import hashlib
from pathlib import Path

import pyproj
import pytest
from job_bench import JobBench
from spoiled_survey import ONE_TILE, PLAIN, REAL, audit_spoiled, tell

from ledger.testing import Layout, Scene, SurveyBuilder


def write_wishes(geoid: str) -> str:
    """Return a `job.toml` that asks for heights above a geoid grid."""
    return (
        '[coordinates]\nvertical = "orthometric"\n'
        f'geoid = {{ name = "EGM96", version = "1", file = "{geoid}" }}\n'
    )


PUERTO_RICO = "EPSG:6348"  # NAD83(2011) / UTM zone 19N
PONCE = (751_000.0, 1_993_000.0)  # near 18.01° N, 66.63° W, metres


def find_geoid_height(grid: Path, scene: Scene) -> float:
    """Return the geoid height at the middle of a scene, from PROJ itself, metres."""
    lon, lat = pyproj.Transformer.from_crs(PUERTO_RICO, "EPSG:6318", always_xy=True).transform(
        *scene.origin
    )
    pipeline = f"+proj=vgridshift +grids={grid} +multiplier=1"
    *_, height = pyproj.Transformer.from_pipeline(pipeline).transform(lon, lat, 0.0)
    return float(height)


@pytest.mark.parametrize("grid", ["whole", "truncated", "missing", "rubbish", "folder"])
def test_a_grid_that_is_missing_or_broken_names_no_cause(bench: JobBench, grid: str) -> None:
    """Lesson 12: only a whole grid names the geoid as the cause of a step that it is.

    PROJ gives heights back unchanged without a grid, and infinite ones from half a grid. The grid
    is GEOID18 of Puerto Rico (NOAA).
    """
    source = REAL / "us_noaa_g2018p0.tif"
    content = source.read_bytes()
    if grid == "whole":
        bench.write("geoid/a.tif", content)
    if grid == "truncated":
        bench.write("geoid/a.tif", content[:20_000])
    if grid == "rubbish":
        bench.write("geoid/a.tif", b"II*\0" + bytes(99))
    if grid == "folder":
        (bench.job / "geoid" / "a.tif").mkdir(parents=True)
    scene = Scene(columns=3, rows=3, density=2.0, origin=PONCE)
    height = find_geoid_height(source, scene)
    assert height == pytest.approx(-39.5, abs=0.5)
    result = audit_spoiled(
        bench,
        lambda survey: survey.shift_heights("tile_1_1", height),
        Layout(compressed=False, crs=f"{PUERTO_RICO}+5703"),
        scene,
        write_wishes("geoid/a.tif"),
    )
    sentences = [sentence for _, grade, sentence in tell(result, "seams") if grade == "major"]
    assert sentences
    assert all(("The geoid height here is" in each) == (grid == "whole") for each in sentences)
    assert [f for f in result["findings"] if f["outcome"] == "errored"] == []


@pytest.mark.parametrize("used", ["us_noaa_g2018p0.tif", "us_noaa_g2012bp0.tif"])
def test_another_edition_of_the_geoid_is_told(bench: JobBench, used: str) -> None:
    """Lesson 13: GEOID12B for GEOID18, 3 cm apart in Puerto Rico, is told by the digest."""
    wished = "us_noaa_g2018p0.tif"
    for name in (wished, "us_noaa_g2012bp0.tif"):
        bench.copy(REAL / name, f"geoid/{name}")
    SurveyBuilder(bench.job / "out", PLAIN, ONE_TILE)
    wishes = write_wishes(f"geoid/{wished}").replace("EGM96", "GEOID18")
    bench.write("job.toml", wishes.encode())
    bench.ask(
        "record",
        "out",
        "--set",
        f"run.geoid_file=geoid/{used}",
        "--set",
        "run.geoid_name=GEOID18",
    )
    result = bench.ask("audit", "out", status=None)
    found = [sentence for _, grade, sentence in tell(result, "height-chain") if grade == "major"]
    digests = [hashlib.sha256((REAL / name).read_bytes()).hexdigest() for name in (used, wished)]
    if used == wished:
        assert found == []
    else:
        (sentence,) = found
        assert f"grid {digests[0][:12]}… against {digests[1][:12]}…" in sentence
