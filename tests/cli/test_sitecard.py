"""`swathbook sitecard`: from a place, a file or the job's boundary; nothing is entered."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from browser import count_printed_pages
from job_bench import JobBench, run_here

from ledger.demo.geoids import write_geoids
from ledger.testing import Scene, SurveyBuilder

PLACE = ("sitecard", "--at", "-80.4,38.6")
SPECIFICATION = b"""
[job]
reference = "QM-0412"
[coordinates]
horizontal = "EPSG:6346"
epoch = 2010.0
geoid = { name = "demo-geoid-A", version = "1", file = "geoid/demo-geoid-A.tif" }
[delivery]
boundary = "site.geojson"
"""
# A square of half a kilometre round 38.5964 N 80.4001 W (RFC 7946).
RING = [[-80.403, 38.594], [-80.397, 38.594], [-80.397, 38.599], [-80.403, 38.599]]
OUTLINE = {"type": "Polygon", "coordinates": [[*RING, RING[0]]]}


@pytest.fixture
def site(bench: JobBench) -> JobBench:
    """Return a job that names its map, its geoid and the boundary of its site."""
    bench.write("job.toml", SPECIFICATION)
    bench.write("site.geojson", json.dumps(OUTLINE).encode())
    write_geoids(bench.job / "geoid")
    return bench


def test_a_job_needs_to_say_nothing(site: JobBench) -> None:
    """Boundary, map, epoch and geoid are those of job.toml; the book is as it was."""
    before = site.read_journal()
    shown = site.ask("sitecard", "--date", "2026-05-26")
    assert shown["job"] == "QM-0412"
    assert shown["known_from"] == "the middle of site.geojson"
    assert (shown["longitude"], shown["latitude"]) == pytest.approx((-80.4, 38.5965), abs=1e-6)
    assert shown["system"] == "NAD83(2011) / UTM zone 17N"
    topics = [line["topic"] for line in shown["lines"]]
    assert "ellipsoidal-heights" in topics
    (years,) = (line for line in shown["lines"] if line["topic"] == "epoch-ignored")
    assert "the years since 2010.0" in years["why"]
    assert site.read_journal() == before


def test_what_the_last_job_left_is_told(site: JobBench) -> None:
    """A map and a geoid that nobody confirmed are used, and said to be so."""
    carried = b'carried = ["coordinates.horizontal", "coordinates.geoid"]\n'
    site.write("job.toml", carried + SPECIFICATION)
    (note,) = site.ask("sitecard")["notes"]
    assert note.startswith("coordinates.horizontal and coordinates.geoid were taken from the last")
    assert "delete them from carried" in note
    named = site.ask("sitecard", "--crs", "EPSG:6346")["notes"]
    assert named[0].startswith("coordinates.geoid was taken from the last job")


def test_registered_grids_are_looked_at(site: JobBench) -> None:
    """A registered grid is held against that of the job; one that is gone is named."""
    assert site.run("register", "geoid").status == 0
    shown = site.ask("sitecard")
    assert any("demo-geoid-B.tif was used" in line["why"] for line in shown["lines"])
    (site.job / "geoid" / "demo-geoid-B.tif").unlink()
    reasons = [each["reason"] for each in site.ask("sitecard")["missing"]]
    assert any("demo-geoid-B.tif" in each and "not there" in each for each in reasons)


def test_the_grid_of_the_job_that_is_absent_is_named(site: JobBench) -> None:
    """No other grid stands in for it in silence."""
    (site.job / "geoid" / "demo-geoid-A.tif").unlink()
    shown = site.ask("sitecard")
    assert any("demo-geoid-A" in each["reason"] for each in shown["missing"])
    assert not [line for line in shown["lines"] if line["topic"] == "ellipsoidal-heights"]


def test_outside_a_job(tmp_path: Path) -> None:
    """A place is enough, anywhere."""
    ran = run_here(PLACE, tmp_path)
    assert ran.status == 0
    assert "Site card for 38.60000° N, 80.40000° W" in ran.out
    assert "GPS time ahead of UTC" in ran.out
    assert "does not certify" in " ".join(ran.out.split())


def test_a_point_file_gives_the_place(tmp_path: Path) -> None:
    """The middle of its box, in its own system; which kind of height it has is left open."""
    SurveyBuilder(tmp_path, scene=Scene(columns=1, density=0.5))
    (tile,) = tmp_path.glob("*.la[sz]")
    shown = json.loads(run_here(["sitecard", tile.name, "--json"], tmp_path).out)
    assert shown["known_from"] == f"the middle of {tile.name}"
    assert shown["height_m"] is not None
    assert any("whichever kind it is" in note for note in shown["notes"])


def test_a_point_file_in_degrees_is_of_no_map(tmp_path: Path) -> None:
    """A file in degrees gives the place; the map is its zone, in the frame that is used there."""
    file = Path(__file__).parents[1] / "real" / "epsg_4326.las"
    shown = json.loads(run_here(["sitecard", str(file), "--json"], tmp_path).out)
    assert shown["system"] == "NAD83(2011) / UTM zone 15N"
    assert "true-north" in [line["topic"] for line in shown["lines"]]


def test_an_outline_gives_the_place(tmp_path: Path) -> None:
    """A GeoJSON polygon lies in degrees; one in WKT needs its system."""
    (tmp_path / "site.geojson").write_text(json.dumps(OUTLINE), encoding="utf-8")
    shown = json.loads(run_here(["sitecard", "site.geojson", "--json"], tmp_path).out)
    assert shown["latitude"] == pytest.approx(38.5965)
    corners = "552000 4272000, 552480 4272000, 552480 4272320, 552000 4272000"
    (tmp_path / "site.wkt").write_text(f"POLYGON (({corners}))", encoding="utf-8")
    assert run_here(["sitecard", "site.wkt"], tmp_path).status == 2
    words = ["sitecard", "site.wkt", "--crs", "EPSG:6346", "--json"]
    shown = json.loads(run_here(words, tmp_path).out)
    assert shown["easting_m"] == pytest.approx(552_240, abs=0.01)


@pytest.mark.parametrize(
    ("words", "told"),
    [
        ([], "nothing says where the site lies: job.toml names no boundary"),
        (["--at", "5,90"], "nothing to expect at this latitude"),
        (["nothere.laz"], "the file cannot be read"),
        (["job.toml"], "a place is taken from a point cloud or an outline"),
        (["--at", "5,50", "--page", "card.pdf"], "expected a name that ends in .html"),
        (["--at", "5,50", "--page", "raw/card.html"], "nothing is written among the raw data"),
        (["--at", "5,50", "--page", "job.html"], "a file lies there already"),
        (["--at", "5,50", "--page", "nowhere/card.html"], "the file cannot be written"),
        (["--at", "5,50", "--crs", "EPSG:1"], "this coordinate system code is not known"),
        (["--at", "5,50", "--geoid", "none.tif"], "there is no such geoid grid"),
    ],
)
def test_what_cannot_be_done_is_one_line(bench: JobBench, words: list[str], told: str) -> None:
    """Wrong input ends with status 2 and one line that says what to do."""
    bench.write("job.html", b"somebody's page")
    (line,) = bench.refuse("sitecard", *words)
    assert told in line


def test_a_damaged_grid_is_told_and_no_number(tmp_path: Path) -> None:
    """A file that is no grid is named among what is missing."""
    (tmp_path / "geoid.tif").write_bytes(b"II*\x00 no grid")
    shown = json.loads(run_here([*PLACE, "--geoid", "geoid.tif", "--json"], tmp_path).out)
    assert any("geoid.tif" in each["reason"] for each in shown["missing"])
    assert "geoid-height" not in {fact["topic"] for fact in shown["facts"]}


def test_the_page_says_what_the_screen_says(site: JobBench) -> None:
    """Every line with its cause, cautions too; names are escaped, and nothing is loaded."""
    site.write("job.toml", SPECIFICATION.replace(b"QM-0412", b"<script>QM</script>"))
    ran = site.run("sitecard", "--page", "card.html")
    assert ran.status == 0
    assert "The page lies in card.html" in ran.out
    page = (site.job / "card.html").read_text(encoding="utf-8")
    shown = site.ask("sitecard")
    assert all(line["why"] in page for line in shown["lines"])
    assert all(caution in page for caution in shown["cautions"])
    assert "<script>" not in page
    assert not re.search(r"(?:src|href)=|url\(|@import", page)


def test_the_card_is_one_page(site: JobBench, tmp_path: Path) -> None:
    """One A4 page, as a browser prints it, with two grids and everything told."""
    site.run("register", "geoid")
    site.run("sitecard", "--height", "182", "--page", "card.html")
    assert count_printed_pages(site.job / "card.html", tmp_path) == 1
