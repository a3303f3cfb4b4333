"""Each reader of the program, fed with bytes that nobody can trust.

Each takes the bytes and a scratch folder. An error of ours is an answer; whatever else it raises is
a fault.
"""

from __future__ import annotations

import contextlib
import functools
import json
import runpy
from collections.abc import Callable
from pathlib import Path

from ledger.content import read_facts
from ledger.contract.profilefile import read_profiles
from ledger.crs import describe, try_geoid_at
from ledger.errors import SwathbookError
from ledger.fieldlogs.binarytrack import read_binary_track
from ledger.fieldlogs.nmea import read_nmea
from ledger.fieldlogs.nmeatrack import read_nmea_track
from ledger.fieldlogs.rinex import read_rinex
from ledger.fieldlogs.trackfacts import read_track_facts
from ledger.fieldlogs.tracktable import read_track_table
from ledger.fieldlogs.trajectory import read_trajectory
from ledger.fingerprint import Fingerprint
from ledger.forms.answers import FileFinder
from ledger.forms.formfile import read_form
from ledger.geokeys import read_geo_keys
from ledger.grids import read_grid
from ledger.lasfacts import describe_las, judge_points
from ledger.lasheader import read_las_header
from ledger.lattice import choose_lattice
from ledger.loading import load_part
from ledger.model.georeferencing import CrsRecord
from ledger.outline import read_outline
from ledger.photos import tells_place
from ledger.points import ALL_DIMENSIONS, read_points
from ledger.sealing.note import parse_note, parse_public_key
from ledger.sealing.timestamp import parse_token
from ledger.sealing.treehead import parse_tree_head
from ledger.settings.reading import read_settings
from ledger.settings.secrets import take_out_secrets
from ledger.specfile.reading import parse_specification, read_leniently
from ledger.tables.facts import read_point_table
from ledger.tables.reading import build_table, read_table, read_what_it_says

_ROOT = Path(__file__).resolve().parents[2]
_PROVEN = "tile_2.las is in D1, entry 3 of swathbook/book/c1e709b6c1c90a48e5fb73b9f3bcf44b"


def _write(folder: Path, name: str, content: bytes) -> Path:
    path = folder / name
    path.write_bytes(content)
    return path


def _each(*calls: Callable[[], object]) -> None:
    """Make every call; an error of ours is an answer."""
    for call in calls:
        with contextlib.suppress(SwathbookError):
            call()


# Point files.


def feed_las(content: bytes, folder: Path) -> None:
    """Read header, records, facts and every point of a LAS or LAZ file."""
    path = _write(folder, "cloud.las", content)
    read_facts(path)  # never raises for bad content
    _each(lambda: judge_points(path), lambda: _read_cloud(path))


def _read_cloud(path: Path) -> None:
    header = read_las_header(path)
    describe_las(header)
    lattice = choose_lattice(header)
    total = Fingerprint(lattice)
    for chunk in read_points(path, header, lattice, ALL_DIMENSIONS, chunk_size=4096):
        total.add(chunk)
    total.value()


def feed_geo_keys(content: bytes, folder: Path) -> None:
    """Read GeoTIFF keys: their directory, numbers and texts, each with its length before it."""
    parts, rest = [], content
    for _ in range(2):
        length, rest = int.from_bytes(rest[:2], "little"), rest[2:]
        parts.append(rest[:length])
        rest = rest[length:]
    keys, _ = read_geo_keys(parts[0], parts[1] or None, rest or None)
    read: Callable[..., CrsRecord] = load_part("ledger.proj.definitions", "read_key_record")
    _each(lambda: read(tuple(sorted(keys.items()))))


def feed_wkt(content: bytes, folder: Path) -> None:
    """Read a coordinate system that was written as text."""
    text = content.decode("utf-8", "replace")
    _each(lambda: describe(text))


# Rasters and pictures.


def feed_grid(content: bytes, folder: Path) -> None:
    """Read a raster, a geoid grid among them, and take a height from it."""
    for name in ("grid.tif", "grid.gtx"):
        path = _write(folder, name, content)
        read_facts(path)
        _each(lambda path=path: read_grid(path), lambda path=path: _sample(path))  # type: ignore[misc]


def _sample(path: Path) -> None:
    try_geoid_at(path, [-84.3, 8.0, 179.99], [33.7, 47.0, -89.0])


def feed_photo(content: bytes, folder: Path) -> None:
    """Ask a picture whether it tells where it was taken."""
    path = _write(folder, "photo.jpg", content)
    read_facts(path)
    tells_place(path)


# Logs and tables.


def feed_rinex(content: bytes, folder: Path) -> None:
    """Read an observation file, plain and packed."""
    for name in ("base.obs", "base.obs.gz"):
        path = _write(folder, name, content)
        read_facts(path)
        _each(lambda path=path: read_rinex(path))  # type: ignore[misc]


def feed_nmea(content: bytes, folder: Path) -> None:
    """Read sentences of a receiver, as facts and as a track."""
    path = _write(folder, "flight.nmea", content)
    read_facts(path)
    _each(lambda: read_nmea(path), lambda: read_nmea_track(path))


def feed_track(content: bytes, folder: Path) -> None:
    """Read a trajectory, as a table and as binary records."""
    path = _write(folder, "track.csv", content)
    read_facts(path)
    _each(lambda: read_track_facts(path), lambda: read_track_table(path))
    binary = _write(folder, "track.sbet", content)
    read_facts(binary)
    _each(lambda: read_trajectory(binary), lambda: read_binary_track(binary))


def feed_points(content: bytes, folder: Path) -> None:
    """Read a table of surveyed points."""
    path = _write(folder, "points.csv", content)
    read_facts(path)
    _each(lambda: read_point_table(path), lambda: _build_table(path))


def _build_table(path: Path) -> None:
    table = read_table(path)
    build_table(table, read_what_it_says(table, path.name), path.name, "0" * 64)


def feed_boundary(content: bytes, folder: Path) -> None:
    """Read an outline, GeoJSON or WKT."""
    path = _write(folder, "edge.geojson", content)
    read_facts(path)
    _each(lambda: read_outline(path))


# What a person or a program writes for us.


def feed_specification(content: bytes, folder: Path) -> None:
    """Read a specification and a profile, strictly and leniently."""
    _each(
        lambda: read_leniently(content),
        lambda: parse_specification(content),
        lambda: read_profiles(content, "profile.toml"),
    )


def feed_form(content: bytes, folder: Path) -> None:
    """Read a form that was filled in."""
    path = _write(folder, "form.toml", content)
    finder = FileFinder(folder, (folder,))
    for kind in ("rig", "flight", "run", "step"):
        _each(lambda kind=kind: read_form(path, kind, finder))  # type: ignore[misc]


def feed_settings(content: bytes, folder: Path) -> None:
    """Read settings of a program, whatever their format, and take secrets out."""
    with contextlib.suppress(SwathbookError):
        take_out_secrets(read_settings(content, "settings").settings)


def feed_seal(content: bytes, folder: Path) -> None:
    """Read a seal, a key and a time stamp."""
    text = content.decode("latin-1")
    _each(
        lambda: parse_note(content),
        lambda: parse_tree_head(parse_note(content).text),
        lambda: parse_tree_head(text),
        lambda: parse_public_key(text),
        lambda: parse_token(content),
    )


def feed_receipt(content: bytes, folder: Path) -> None:
    """Check a receipt with the script of the guide: not proven, or what the true one proves."""
    told = _PROVEN
    with contextlib.suppress(Exception):  # the script says "not proven" of any
        receipt = json.loads(content.decode("utf-8"))
        told = _load_script()(receipt, *_read_receipt_parts())
    if told != _PROVEN:
        raise ValueError(f"an altered receipt proved: {told}")


@functools.cache
def _load_script() -> Callable[..., str]:
    check: Callable[..., str]
    check = runpy.run_path(str(_ROOT / "docs" / "guide" / "verify_receipt.py"))["check"]
    return check


@functools.cache
def _read_receipt_parts() -> tuple[bytes, str]:
    """Return the file of the receipt, and the key that its seal is of."""
    place = _ROOT / "tests" / "receipt" / "vectors"
    return (place / "tile_2.las").read_bytes(), (place / "key.txt").read_text(encoding="utf-8")
