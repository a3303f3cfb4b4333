"""What fuzzing begins with: small inputs as they ought to be, and books that somebody forged."""

from __future__ import annotations

import base64
import contextlib
import functools
import io
import json
import re
import sqlite3
import tempfile
import zipfile
from collections.abc import Iterator
from pathlib import Path

from made_logfiles import Logs
from photo import make_photo

from ledger.cli.frame import main
from ledger.forms.blank import print_blank
from ledger.merkle import Frontier, hash_leaf
from ledger.start.template import write_template
from ledger.store.blobs import pack
from ledger.store.reading import BOOK_NAME, Book
from ledger.store.schema import APPLICATION_ID, LAYOUT_VERSION, STORED_TABLES
from ledger.testing import Layout, Scene, SurveyBuilder

TESTS = Path(__file__).resolve().parents[1]
_KINDS = ("rig", "flight", "run", "step")
_SHORT = 40
JOB = b"@JOB@"
"""Stands for the job folder in what is fed."""


def make_specification() -> bytes:
    """Return the template of `job.toml`, with its examples filled in."""
    lines = write_template("QM-0412", "a pit").splitlines()
    return "\n".join(re.sub(r"^# (\w+ = )", r"\1", line) for line in lines).encode()


def make_photos() -> Iterator[bytes]:
    """Yield a photo with its place, and one cut short."""
    whole = make_photo()
    yield from (whole, whole[:100])


def list_tracks() -> Iterator[bytes]:
    """Yield trajectories: tables of two kinds, and binary records."""
    lines = Logs().write_path().splitlines(keepends=True)
    yield "".join(lines[:_SHORT]).encode()
    yield b"GPSTime Latitude Longitude Height Fix\n100.0 33.7 -84.3 300.1 4\n101 33.8 -84.4 300 5\n"
    yield (TESTS / "real" / "2-points.sbet").read_bytes()


def list_tables() -> Iterator[bytes]:
    """Yield tables of surveyed points as they are written in several offices."""
    yield b"name,easting [ftUS],northing [ftUS],elevation\nCP1,2200000.123,1360000.5,901.25\n"
    yield b"Punkt;Rechtswert;Hochwert;H\nA1;600123,45;5200123,4;401,2\nA2;600124,0;5200120,1;401\n"
    yield b"# crs: EPSG:2240+6360\nCP1 2200000.1 1360000.2 900.3 NVA\nCP2 2200010 1360000 901 VVA\n"
    place = b'{"type":"Point","coordinates":[8.1,47.2,401.5]}'
    feature = b'{"type":"Feature","properties":{"name":"A"},"geometry":%b}' % place
    yield b'{"type":"FeatureCollection","features":[%b]}' % feature


def list_outlines() -> Iterator[bytes]:
    """Yield outlines, GeoJSON and WKT."""
    ring = "[[8.0,47.0],[8.1,47.0],[8.1,47.1],[8.0,47.0]]"
    polygon = f'{{"type":"Polygon","coordinates":[{ring}]}}'
    yield polygon.encode()
    yield f'{{"type":"Feature","properties":{{}},"geometry":{polygon}}}'.encode()
    several = f'{{"type":"MultiPolygon","coordinates":[[{ring}],[{ring}]]}}'
    yield f'{{"type":"GeometryCollection","geometries":[{several}]}}'.encode()
    yield b"POLYGON((0 0,10 0,10 10,0 0),(1 1,2 1,2 2,1 1))"
    yield b"MULTIPOLYGON(((0 0,10 0,10 10,0 0)))"


def list_forms() -> Iterator[bytes]:
    """Yield the printed forms, blank and with some answers."""
    for kind in _KINDS:
        yield print_blank(kind).encode()
    yield b'wind = "light"\nheight = "60 m"\nlever_arm = [0.1, 0.2, "0.3 ft"]\ntakeoff = 07:30:00\n'


def list_settings() -> Iterator[bytes]:
    """Yield settings in each format that is read."""
    yield b'{"device":{"mountType":"UAV","password":"x1y2z3"},"scale":0.0010,"list":[1,{"a":2}]}'
    yield b'<?xml version="1.0"?><config><mount type="uav">drone</mount><key>abc</key></config>'
    yield b"[out]\nheights = ellipsoidal\nscale: 0.001\n; remark\n[in]\nurl=http://u:p@h/\n"
    yield b'[out]\nheights = "ellipsoidal"\nscale = 0.0010\nwhen = 2026-01-02T03:04:05Z\n'
    yield b"out:\n  heights: ellipsoidal\n  list: [1, 2, {a: b}]\nkey: &x abc\nother: *x\n"
    yield "mode=drone\nheight = 60\n".encode("utf-16")


def list_seals() -> Iterator[bytes]:
    """Yield seals, keys and time stamps."""
    log = TESTS / "published" / "tlog"
    yield from (path.read_bytes() for path in sorted(log.glob("checkpoint.*"))[:3])
    yield (log / "log.vkey").read_bytes()
    vectors = TESTS / "sealing" / "vectors"
    yield from (path.read_bytes() for path in sorted(vectors.glob("*.tsr")))
    yield (vectors / "abc.token").read_bytes()


def list_receipts() -> Iterator[bytes]:
    """Yield a receipt that was kept."""
    yield (TESTS / "receipt" / "vectors" / "tile_2.receipt.json").read_bytes()


def list_scratch() -> Iterator[bytes]:
    """Yield what lies in the folder for what may be lost, and in the user's own."""
    fixity = {"sha256": "0" * 64, "bytes": 300, "mtime_ns": 1, "file_id": "1:2"}
    yield json.dumps({"path": f"{JOB.decode()}/raw/cap_1.bin", **fixity}).encode()
    yield b'{"machine": "0a1b2c3d", "process": 42, "since": "2026-01-02T03:04:05Z"}'
    yield b'"%b"\n"/nowhere/other"\n' % JOB
    yield b"0a1b2c3d\n"
    typed = {"value": "a scanner", "known_by": "typed", "confirmed": True}
    lever = {"value": ["0.10", "0.20", "-0.30"], "unit": "m", "known_by": "measured"}
    answers = {"rig.scanner": typed, "run.software": typed, "rig.lever_arm": lever}
    yield json.dumps({"about": "1 output in out", "answers": answers}).encode()


# Jobs and books.


def make_job(place: Path) -> None:
    """Make a job with a flight, a run and an audit, by the commands that a person types."""
    run("start", place)
    (place / "raw").mkdir(exist_ok=True)
    (place / "raw" / "cap_1.bin").write_bytes(b"raw" * 100)
    survey = SurveyBuilder(place / "out", Layout(compressed=False), Scene(columns=1, density=0.3))
    run("--job", place, "register", place / "raw", "--flight", "F1")
    software = "software=demo-proc"
    run("--job", place, "record", place / "out", "--input", "F1", "--set", software)
    run("--job", place, "record", "rig", "--set", "scanner=a scanner")
    run("--job", place, "record", "decision", "R1", "accepted", "--reason", "looks right")
    run("--job", place, "audit", place / "out", "--quick")
    run("--job", place, "amend", "R1", "--set", "version=1", "--reason", "typed wrong")
    run("--job", place, "seal")
    assert survey.paths


def run(*words: object) -> None:
    """Run a command in this process, whatever it comes to."""
    out = io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(out):
        main([str(word) for word in words])


@functools.cache
def _make_book() -> bytes:
    with tempfile.TemporaryDirectory() as name:
        make_job(Path(name) / "job")
        return (Path(name) / "job" / BOOK_NAME).read_bytes()


def list_books() -> Iterator[bytes]:
    """Yield books: one made now, and one that was stamped."""
    yield _make_book()
    with zipfile.ZipFile(TESTS / "sealing" / "vectors" / "sealed-book.zip") as packed:
        yield packed.read(BOOK_NAME)


def list_journals() -> Iterator[bytes]:
    """Yield the entries and blobs of a book as `forge_book` takes them."""
    with tempfile.TemporaryDirectory() as name:
        for number, content in enumerate(list_books()):
            place = Path(name) / str(number)
            place.mkdir()
            (place / BOOK_NAME).write_bytes(content)
            yield describe_book(place)


def describe_book(place: Path) -> bytes:
    """Return a line for each entry, and before it one for each of its blobs."""
    lines = []
    with Book.open(place) as book:
        for body in book.bodies():
            blobs = map(book.blob, json.loads(body)["blobs"])
            lines += [b"=" + base64.b64encode(blob) for blob in blobs]
            lines.append(body)
    return b"\n".join(lines)


def forge_book(content: bytes, place: Path) -> None:
    """Write a book whose tree fits, of entries and blobs as they are told.

    Args:
        content: lines: `=` and base64 for a blob, anything else for the body of an entry.
        place: the file.
    """
    frontier = Frontier()
    with contextlib.closing(sqlite3.connect(place)) as connection, connection:
        connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
        connection.execute(f"PRAGMA user_version = {LAYOUT_VERSION}")
        for statement in STORED_TABLES.values():
            connection.execute(statement)
        number = 0
        for line in content.split(b"\n"):
            if line.startswith(b"="):
                _store_blob(connection, line[1:])
                continue
            number += 1
            frontier.append(hash_leaf(line))
            row = number, line, frontier.root()
            connection.execute("INSERT INTO journal (seq, body, root) VALUES (?, ?, ?)", row)


def _store_blob(connection: sqlite3.Connection, line: bytes) -> None:
    try:
        packed = pack(base64.b64decode(line))
    except ValueError:
        return
    row = packed.digest.sha256, packed.stored
    connection.execute("INSERT OR IGNORE INTO blobs (sha256, bytes) VALUES (?, ?)", row)
