"""The geoid grids behind a delivery, asked at the five places of its site."""

from __future__ import annotations

import hashlib
import shutil
from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from ledger.audit.sitegeoids import find_site_places, read_site_geoids
from ledger.contract.evidence import DeliveredFile
from ledger.crs import describe, read_crs, to_lonlat
from ledger.demo.geoids import write_geoids
from ledger.lasheader import read_las_header
from ledger.model.audit import WHOLE_DELIVERY
from ledger.model.boundary import Boundary
from ledger.model.finding import Finding
from ledger.model.sitegeoid import Likeness, compare_site_geoids
from ledger.testing import Scene, SurveyBuilder

UTM = describe("EPSG:6346")
WEST, SOUTH, EAST, NORTH = 552000.0, 4272000.0, 552480.0, 4272320.0
RING = ((WEST, SOUTH), (EAST, SOUTH), (EAST, NORTH), (WEST, NORTH), (WEST, SOUTH))


@pytest.fixture
def tiles(tmp_path: Path) -> tuple[DeliveredFile, ...]:
    """Return two delivered files with their headers and systems."""
    made = SurveyBuilder(tmp_path / "tiles", scene=Scene(columns=2, density=0.5))
    headers = [read_las_header(path) for path in made.paths]
    return tuple(
        DeliveredFile(f"{n}.laz", "", 0, "points", header, crs=read_crs(header))
        for n, header in enumerate(headers)
    )


def test_the_outline_gives_the_places() -> None:
    """The middle of the boundary comes first, in degrees."""
    places = find_site_places(Boundary("site.geojson", "", ((RING,),)), UTM, ())
    middle = to_lonlat(UTM, (WEST + EAST) / 2, (SOUTH + NORTH) / 2)
    assert len(places) == 5
    assert places[0] == pytest.approx(middle, abs=2e-6)


def test_headers_give_the_places_without_an_outline(tiles: tuple[DeliveredFile, ...]) -> None:
    """The places lie within the boxes of the files, in the system of each."""
    places = find_site_places(None, None, tiles)
    lons, lats = zip(*places, strict=True)
    corners = [
        to_lonlat(file.crs.governing.crs, x, y)
        for file in tiles
        if file.header is not None and file.crs is not None and file.crs.governing.crs is not None
        for x in (file.header.minimum[0], file.header.maximum[0])
        for y in (file.header.minimum[1], file.header.maximum[1])
    ]
    assert min(lons) == pytest.approx(min(lon for lon, _ in corners), abs=1e-6)
    assert max(lats) == pytest.approx(max(lat for _, lat in corners), abs=1e-6)


def test_a_file_with_a_wrong_label_does_not_stretch_the_site(
    tiles: tuple[DeliveredFile, ...],
) -> None:
    """A tile that would lie degrees away is left out; a site is small."""
    first = tiles[0]
    assert first.header is not None
    minimum, maximum = first.header.minimum, first.header.maximum
    away = replace(
        first.header,
        minimum=(minimum[0], minimum[1] - 500_000.0, minimum[2]),
        maximum=(maximum[0], maximum[1] - 500_000.0, maximum[2]),
    )
    stray = replace(first, path="stray.laz", header=away)
    assert find_site_places(None, None, (*tiles, stray)) == find_site_places(None, None, tiles)


def test_a_site_without_a_place_asks_no_grid(tmp_path: Path) -> None:
    """Without outline, files and system nothing is asked, and each grid says why."""
    assert find_site_places(None, None, ()) == ()
    found = read_site_geoids({"1": tmp_path / "a.tif", "2": None}, ())
    assert "where the site lies" in found["1"].reason
    assert "no file" in found["2"].reason


def test_an_audit_asks_the_grids_of_job_and_runs(bench: Any) -> None:
    """The grid of job.toml, that of a run, and one that is gone are evidence by their digests."""
    write_geoids(bench.job / "geoid")
    asked, other = (bench.job / "geoid" / f"demo-geoid-{name}.tif" for name in "AB")
    renamed = bench.job / "geoid" / "renamed.tif"
    shutil.copyfile(asked, renamed)
    with renamed.open("ab") as stream:
        stream.write(b"\0")
    digests = {path: hashlib.sha256(path.read_bytes()).hexdigest() for path in (asked, renamed)}
    bench.write(
        '[coordinates]\nhorizontal = "EPSG:6346"\n'
        'geoid = { name = "a", file = "geoid/demo-geoid-A.tif" }\n'
        '[delivery]\nboundary = "site.wkt"\n'
    )
    ring = ", ".join(f"{x} {y}" for x, y in RING)
    (bench.job / "site.wkt").write_text(f"POLYGON (({ring}))", encoding="utf-8")
    other.unlink()
    known = {"known_by": "read", "confirmed": True}
    for path, digest, where in (
        (bench.survey.paths[0], digests[renamed], "geoid/renamed.tif"),
        (bench.survey.paths[1], "f" * 64, "geoid/demo-geoid-B.tif"),
    ):
        bench.record(path, values={"run.geoid_file": {"value": digest, "where": where, **known}})
    seen: list[Any] = []

    def look(check: Any, evidence: Any) -> Iterable[Finding]:
        seen.append(evidence.geoids)
        yield check.conforms(WHOLE_DELIVERY, "Seen.")

    bench.install(bench.say(look))
    bench.audit(quick=True)
    geoids = seen[0]
    assert set(geoids) == {digests[asked], digests[renamed], "f" * 64}
    assert geoids[digests[asked]].heights_m[0] == pytest.approx(-31.912, abs=5e-4)
    alike = compare_site_geoids(geoids[digests[asked]], geoids[digests[renamed]])
    assert alike.likeness is Likeness.VALUES
    assert "no file with the bytes" in geoids["f" * 64].reason
