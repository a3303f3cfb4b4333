"""What is fed with bytes that nobody can trust: each reader, and commands over whole files.

A target takes bytes and a scratch folder. An error of ours is an answer; whatever else it raises is
a fault, and so is a finding that a check of ours broke.
"""

from __future__ import annotations

import contextlib
import io
import json
import os
import shutil
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

import fuzzseeds
import numpy as np
from alter import Dice, alter
from reshape import Reshape, reshape_book, reshape_journal, reshape_json, reshape_toml

from ledger.cli.frame import main
from ledger.content import read_facts
from ledger.contract.profilefile import read_profiles
from ledger.crs import describe, read_crs, try_geoid_at
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
from ledger.store.reading import BOOK_NAME
from ledger.tables.facts import read_point_table
from ledger.tables.reading import build_table, read_table, read_what_it_says

REAL = Path(__file__).resolve().parents[1] / "real"
ROOT = Path(__file__).resolve().parents[2]

Feed = Callable[[bytes, Path], None]
_LARGEST_SEED = 40_000
_KEEP_FORM = 0.7
_INSTRUMENTS = "INFO: Instrumenting "  # what the fuzzer itself prints while a module is loaded


class BrokenCheckError(AssertionError):
    """A command went on, and a part of it had broken."""


@dataclass(frozen=True)
class Target:
    """One thing to be fed.

    Args:
        feed: takes bytes and an empty scratch folder.
        seeds: returns bytes that it is meant for.
        words: what its format is made of, for whoever alters bytes.
        command: whether it runs whole commands, and so is slow.
        reshape: changes what its format says and keeps its form; None where bytes are all there is.
    """

    feed: Feed
    seeds: Callable[[], Iterable[bytes]]
    words: tuple[bytes, ...] = ()
    command: bool = False
    reshape: Reshape | None = None

    def alter(self, content: bytes, dice: Dice) -> bytes:
        """Return bytes altered: most keep their form where the format has one."""
        if self.reshape is not None and dice.random() < _KEEP_FORM:
            return self.reshape(content, dice)
        return alter(content, dice, self.words)


def _write(folder: Path, name: str, content: bytes) -> Path:
    path = folder / name
    path.write_bytes(content)
    return path


def _read(*patterns: str) -> Callable[[], Iterator[bytes]]:
    """Return what gives the small real files of some patterns."""

    def list_seeds() -> Iterator[bytes]:
        for pattern in patterns:
            for path in sorted(REAL.glob(pattern)):
                content = path.read_bytes()
                yield content[:_LARGEST_SEED]

    return list_seeds


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


def _list_key_seeds() -> Iterator[bytes]:
    for path in sorted(REAL.glob("*.las")):
        with contextlib.suppress(SwathbookError):
            keys = read_las_header(path).geo_keys
            if keys:
                yield _pack_keys(keys)
    yield _pack_keys({1024: 1, 3072: 32617, 4096: 5703, 3076: 9002})
    own = {1024: 1, 3072: 32767, 3074: 32767, 3075: 1, 2048: 4269, 3080: -90.0, 3081: 30.0}
    yield _pack_keys({**own, 3082: 1640416.67, 3083: 0.0, 3092: 0.9996, 1026: "own|"})


def _pack_keys(keys: dict[int, int | float | str]) -> bytes:
    rows, numbers, texts = b"", b"", b""
    for key, value in keys.items():
        if isinstance(value, int):
            place = (0, 1, value)
        elif isinstance(value, float):
            place = (34736, 1, len(numbers) // 8)
            numbers += np.float64(value).tobytes()
        else:
            place = (34737, len(value) + 1, len(texts))
            texts += f"{value}|".encode()
        rows += np.array([key, *place], "<u2").tobytes()
    directory = np.array([1, 1, 0, len(keys)], "<u2").tobytes() + rows
    lengths = [len(part).to_bytes(2, "little") for part in (directory, numbers)]
    return lengths[0] + directory + lengths[1] + numbers + texts


def feed_wkt(content: bytes, folder: Path) -> None:
    """Read a coordinate system that was written as text."""
    text = content.decode("utf-8", "replace")
    _each(lambda: describe(text))


def _list_wkt_seeds() -> Iterator[bytes]:
    yield (ROOT / "ledger" / "demo" / "crs.wkt").read_bytes()
    yield b"EPSG:6346+5703"
    for path in sorted(REAL.glob("*.la[sz]")):
        with contextlib.suppress(SwathbookError):
            header = read_las_header(path)
            for text in {header.wkt, read_crs(header).governing.crs and _get_wkt(header)}:
                if text:
                    yield text.encode()


def _get_wkt(header: object) -> str:
    crs = read_crs(header).governing.crs  # type: ignore[arg-type]
    return "" if crs is None else crs.wkt


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


def _list_photo_seeds() -> Iterator[bytes]:
    yield from fuzzseeds.make_photos()


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


def _list_specification_seeds() -> Iterator[bytes]:
    yield from (path.read_bytes() for path in (ROOT / "ledger").rglob("*.toml"))
    yield from (path.read_bytes() for path in sorted((ROOT / "plugins").rglob("*.toml"))[:4])
    yield fuzzseeds.make_specification()


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


# The book, and whole commands.


def feed_book(content: bytes, folder: Path) -> None:
    """Open bytes as a book: look things up, check it, and add to it."""
    job = folder / "job"
    job.mkdir()
    (job / BOOK_NAME).write_bytes(content)
    _type_all(job, *_LOOKS)


def feed_entries(content: bytes, folder: Path) -> None:
    """Open a book whose tree fits, and whose entries somebody wrote as they liked."""
    job = folder / "job"
    job.mkdir()
    fuzzseeds.forge_book(content, job / BOOK_NAME)
    _type_all(job, *_LOOKS)


_LOOKS = (
    ("recheck", "--book-only"),
    ("status",),
    ("trace", "R1"),
    ("trace", "out/points.las"),
    ("find", "software"),
    ("amend", "R1", "--set", "version=2", "--reason", "typed wrong"),
    ("record", "flight", "--set", "wind=light"),
    ("register", "raw"),
    ("seal",),
)


def feed_job(content: bytes, folder: Path) -> None:
    """Register bytes as raw data of several kinds, and audit them as what is delivered."""
    job = folder / "job"
    shutil.copytree(_find_template(), job)
    for name in ("raw/scan.las", "raw/base.obs", "raw/points.csv", "raw/geoid.tif", "out/a.las"):
        (job / name).write_bytes(content)
    _type_all(job, ("register", "raw", "--flight", "F1"), ("audit", "out"), ("status",))


def feed_wish(content: bytes, folder: Path) -> None:
    """Audit against a specification that somebody wrote."""
    job = folder / "job"
    shutil.copytree(_find_template(), job)
    (job / "job.toml").write_bytes(content)
    _type_all(job, ("audit", "out"), ("checks",), ("status",), ("sitecard",))


def feed_scratch(content: bytes, folder: Path) -> None:
    """Lay bytes where the program keeps what may be lost, and where the user's own things lie."""
    job = folder / "job"
    shutil.copytree(_find_template(), job)
    content = content.replace(fuzzseeds.JOB, str(job).encode())
    home = Path(os.environ["SWATHBOOK_HOME"])
    for name in _SCRATCH:
        place = job / ".swathbook" / name
        _write(_make(place.parent), place.name, content)
    for name in ("jobs.jsonl", "machine"):
        _write(_make(home), name, content)
    _type_all(
        job,
        ("register", "raw"),
        ("status",),
        ("record", "rig", "--set", "scanner=another"),
        ("record", "out", "--set", "version=2"),
        ("recheck", "--book-only"),
        ("find", "x", "--everywhere"),
    )


# What may be lost: half-done work, drafts of forms, notes of who holds the book and how it was.
_SCRATCH = (
    "register.resume",
    "writer.json",
    "book.unbroken",
    "drafts/run.json",
    "drafts/step.json",
    "drafts/rig-new.json",
)


def _make(folder: Path) -> Path:
    folder.mkdir(parents=True, exist_ok=True)
    return folder


def _find_template() -> Path:
    """Return a job with a flight and a run, made once a process."""
    place = Path(os.environ["SWATHBOOK_HOME"]) / "template"
    if not place.exists():
        fuzzseeds.make_job(place)
    return place


def _type_all(job: Path, *commands: tuple[str, ...]) -> None:
    """Run commands one after the other; each has to end as commands do."""
    for words in commands:
        out, err = io.StringIO(), io.StringIO()
        with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
            status = main(["--job", str(job), "--json", *_place(job, words)])
        told = (line for line in err.getvalue().splitlines() if not line.startswith(_INSTRUMENTS))
        _require_told(words, status, out.getvalue(), "\n".join(told))


def _place(job: Path, words: tuple[str, ...]) -> Iterator[str]:
    """Yield words with folders of the job made whole: this process stands elsewhere."""
    for word in words:
        yield str(job / word) if (job / word).exists() else word


def _require_told(words: tuple[str, ...], status: int, out: str, err: str) -> None:
    """Refuse what is no answer: another status, no object, more than it may say."""
    if status not in (0, 1, 2, 3):
        raise BrokenCheckError(f"{words[0]} ended with status {status}")
    result = json.loads(out)
    if status == 2 and not (result["errors"] and err.startswith("swathbook: ")):
        raise BrokenCheckError(f"{words[0]} refused and did not say why: {err[:200]}")
    if status < 2 and err:
        raise BrokenCheckError(f"{words[0]} said more than its answer: {err[:200]}")
    broken = [each for each in result.get("findings", ()) if each.get("outcome") == "errored"]
    if broken:
        raise BrokenCheckError(f"{broken[0]['check']} broke: {broken[0].get('sentence')}")


_WKT_WORDS = b"PROJCS GEOGCS COMPD_CS VERT_CS VERTCRS PROJCRS ENSEMBLE UNIT AUTHORITY ID PARAMETER"
_TOML_WORDS = b"[job] [coordinates] [delivery] [criteria. [[ ]] = ''' \"\"\" nan inf 1979-05-27"
_JSON_WORDS = b'"values" "kind" "seq" "files" "sha256" "path" null true [] {} 1e999 -1 "\\ud800"'

TARGETS: dict[str, Target] = {
    "las": Target(feed_las, _read("*.la[sz]"), (b"LASF", b"LASF_Projection", b"copc")),
    "geo-keys": Target(feed_geo_keys, _list_key_seeds),
    "wkt": Target(feed_wkt, _list_wkt_seeds, tuple(_WKT_WORDS.split())),
    "grid": Target(feed_grid, _read("*.tif", "*.gtx"), (b"II*\0", b"MM\0*")),
    "photo": Target(feed_photo, _list_photo_seeds, (b"Exif\0\0", b"\xff\xe1")),
    "rinex": Target(feed_rinex, _read("*.??[oODd]", "*.rnx", "*.gz")),
    "nmea": Target(feed_nmea, _read("*.log", "*.txt"), (b"$GPGGA,", b"$GNRMC,", b"$GPZDA,")),
    "track": Target(feed_track, fuzzseeds.list_tracks, (b"time", b"lat", b"lon", b"height")),
    "points": Target(feed_points, fuzzseeds.list_tables, (b"easting", b"northing", b";", b"\t")),
    "boundary": Target(
        feed_boundary,
        fuzzseeds.list_outlines,
        tuple(_JSON_WORDS.split()),
        reshape=reshape_json,
    ),
    "specification": Target(
        feed_specification,
        _list_specification_seeds,
        tuple(_TOML_WORDS.split()),
        reshape=reshape_toml,
    ),
    "form": Target(
        feed_form, fuzzseeds.list_forms, tuple(_TOML_WORDS.split()), reshape=reshape_toml
    ),
    "settings": Target(feed_settings, fuzzseeds.list_settings, (b"<!ENTITY", b"&a", b"*a", b"---")),
    "seal": Target(feed_seal, fuzzseeds.list_seals, ("\u2014".encode(), b"\n\n", b"+")),
    "book": Target(feed_book, fuzzseeds.list_books, command=True, reshape=reshape_book),
    "entries": Target(
        feed_entries,
        fuzzseeds.list_journals,
        tuple(_JSON_WORDS.split()),
        command=True,
        reshape=reshape_journal,
    ),
    "job": Target(feed_job, _read("*.las", "*.??[oO]", "*.tif"), command=True),
    "wish": Target(
        feed_wish,
        lambda: [fuzzseeds.make_specification()],
        tuple(_TOML_WORDS.split()),
        command=True,
        reshape=reshape_toml,
    ),
    "scratch": Target(feed_scratch, fuzzseeds.list_scratch, command=True, reshape=reshape_json),
}
