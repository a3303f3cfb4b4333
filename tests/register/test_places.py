"""Raw data from far away is told when it is registered, and nothing is said of what is near."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from PIL import Image

from ledger.fieldlogs.nmea import read_nmea
from ledger.model.artefact import FileRecord
from ledger.register.places import remark_on_places

# A square of some 200 m.
_SQUARE = [[-81.0, 28.0], [-81.0, 28.002], [-80.998, 28.002], [-80.998, 28.0], [-81.0, 28.0]]


@pytest.fixture
def job(tmp_path: Path) -> Path:
    """Return a job folder whose boundary is the square."""
    outline = {"type": "Polygon", "coordinates": [_SQUARE]}
    (tmp_path / "site.geojson").write_text(json.dumps(outline), encoding="utf-8")
    (tmp_path / "job.toml").write_text('[delivery]\nboundary = "site.geojson"\n', encoding="utf-8")
    return tmp_path


def make_record(role: str, path: str = "raw/log", **facts: object) -> FileRecord:
    """Return a raw file with what it says of itself."""
    return FileRecord(path, "a" * 64, 1, 1, role, facts)


@pytest.mark.parametrize(("lat", "is_told"), [("28.045", False), ("28.050", True)])
def test_a_flight_log_more_than_5_km_off_is_told(job: Path, lat: str, *, is_told: bool) -> None:
    """A degree of latitude has 111.2 km on the sphere: 28.050° lies 5.3 km from the corner."""
    record = make_record("flight-log", position_deg=("-80.999", lat))
    told = list(remark_on_places(job, [record]))
    assert bool(told) == is_told
    if is_told:
        assert told[0].startswith("raw/log was recorded 5 km from the boundary of this job (site")


@pytest.mark.parametrize(
    ("position", "is_told"),
    # 28.2° N and 29° N on the same meridian, as PROJ takes EPSG:4979 to EPSG:4978.
    [
        (("880084.7", "-5556008.4", "2996056.9"), False),
        (("873444.5", "-5514089.0", "3073901.2"), True),
    ],
)
def test_a_base_log_more_than_50_km_off_is_told(
    job: Path, position: tuple[str, str, str], *, is_told: bool
) -> None:
    """Twenty km are let pass, a hundred are not."""
    record = make_record("base-log", position_m=position)
    assert bool(list(remark_on_places(job, [record]))) == is_told


def test_a_photo_from_elsewhere_is_told_and_its_place_not(job: Path) -> None:
    """The distance stands in the remark; longitude and latitude do not."""
    picture = Image.new("RGB", (8, 8))
    exif = Image.Exif()
    exif.get_ifd(0x8825).update({1: "S", 2: (28.0, 30.0, 0.0), 3: "W", 4: (81.0, 0.0, 0.0)})
    picture.save(job / "mount.jpg", exif=exif)
    (told,) = remark_on_places(job, [make_record("photo", "mount.jpg")])
    assert "mount.jpg was recorded 6,2" in told
    assert "28.5" not in told


def test_nothing_is_said_without_a_boundary(tmp_path: Path) -> None:
    """Nor where there is no job.toml."""
    record = make_record("flight-log", position_deg=("0.0", "0.0"))
    assert list(remark_on_places(tmp_path, [record])) == []


def test_the_first_solution_of_a_log_gives_its_place(tmp_path: Path) -> None:
    """The example sentence of NMEA 0183, GGA, behind one that has no solution yet."""
    log = tmp_path / "log.txt"
    lines = [
        "GPGGA,123518,,,,,0,00,,,M,,M,,",
        "GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,",
    ]
    sums = []
    for line in lines:
        total = 0
        for letter in line.encode():
            total ^= letter
        sums.append(f"${line}*{total:02X}")
    log.write_text("\r\n".join(sums), encoding="ascii")
    assert read_nmea(log).position_deg == ("11.516667", "48.117300")
