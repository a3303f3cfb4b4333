"""A small book with every kind of entry, and ways to look behind it."""

from __future__ import annotations

import shutil
import sqlite3
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from ledger.canonical import compute_digest, encode
from ledger.model.artefact import FileRecord, FingerprintValue, Output
from ledger.model.entry import Draft, Kind
from ledger.model.known import KnownValue
from ledger.store.mapping import file_to_values, fingerprint_to_values, output_to_values
from ledger.store.schema import BOOK_NAME, DERIVED_TABLES
from ledger.store.writing import Addition, BookWriter, create_book

START = datetime(2026, 5, 4, 6, 0, 0, tzinfo=UTC)


@pytest.fixture(autouse=True)
def _own_home(tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch) -> None:
    """Keep the machine id of the tests out of the user's own folder."""
    monkeypatch.setenv("SWATHBOOK_HOME", str(tmp_path_factory.mktemp("home")))


def make_digest(name: str) -> str:
    """Return a digest that stands for the bytes of a file."""
    return compute_digest(name.encode())


def make_file(path: str, content: str = "", **parts: object) -> FileRecord:
    """Return a record of a file whose bytes are named by `content`, else by its path."""
    usual: dict[str, Any] = {
        "bytes": len(path) * 1000,
        "mtime_ns": 1_700_000_000_000_000_000,
        "role": "points",
    }
    return FileRecord(path=path, sha256=make_digest(content or path), **{**usual, **parts})


def make_fingerprint(name: str, full: str | None = None) -> FingerprintValue:
    """Return a fingerprint that stands for a set of points."""
    digest = make_digest(name)
    full = digest[32:] if full is None else full
    return FingerprintValue("points-1", 1000, digest[:32], digest[16:48], full)


def make_list(kind: str, key: str, items: object, **values: object) -> Addition:
    """Return an entry whose value `key` is a list kept as a blob."""
    blob = encode(items)
    return Addition(Draft(kind, {**values, key: compute_digest(blob)}), (blob,))


def make_run(kind: str, outputs: list[Output], **values: object) -> Addition:
    """Return a run or step that gets its id from the book."""
    item = make_list(
        kind,
        "outputs",
        [output_to_values(output) for output in outputs],
        output_count=len(outputs),
        **{"name": "", "values": {}, "inputs": [], "decision": "", "reason": "", **values},
    )
    return Addition(item.draft, item.blobs, "R" if kind == Kind.RUN else "S")


def make_story() -> list[Addition]:
    """Return a job from its start to its audit: every kind of entry once or more."""
    raw = [make_file("raw/F1/scan.bin", role="capture", facts={"format": "raw"}, path_bytes="72")]
    raw.append(make_file("raw/F1/base.obs", role="base-log", fault="it ends early"))
    first = Output(make_file("out/R1/a.laz"), 900, make_fingerprint("a"))
    second = Output(make_file("out/R2/a.laz"), 1000, make_fingerprint("b"))
    table = Output(make_file("out/R2/report.csv", role="document"))
    cleaned = Output(make_file("out/S1/a.las"), 990, make_fingerprint("c", full=""))
    mode = KnownValue("drone").to_values()
    arm = KnownValue(["0.121", "0.002", "-0.094"], unit="m").to_values()
    flight = [{"flight": "F1"}]
    text = b'[job]\nreference = "J-17"\n'
    digest = compute_digest(text)
    delivered = {"path": "a.las", "sha256": cleaned.file.sha256, "bytes": 5}
    prints = encode({cleaned.file.sha256: fingerprint_to_values(make_fingerprint("d"))})
    manifest, findings = encode([delivered]), encode([])
    return [
        Addition(Draft(Kind.JOB, {"reference": "J-17", "title": "Quarry", "like": ""})),
        Addition(Draft(Kind.SPECIFICATION, {"sha256": digest, "bytes": len(text)}), (text,)),
        Addition(Draft(Kind.RIG, {"name": "blue", "values": {"rig.bracket": mode}}), (), "G"),
        Addition(Draft(Kind.FLIGHT, {"name": "", "values": {}}), (), "F"),
        make_list(
            Kind.FILES,
            "manifest",
            [file_to_values(file) for file in raw],
            flight="F1",
            volume="",
            count=2,
            bytes=29,
        ),
        make_list(
            Kind.SIGHTING,
            "manifest",
            [file_to_values(make_file("/mnt/card/scan.bin", "raw/F1/scan.bin"))],
            count=1,
        ),
        Addition(
            Draft(
                Kind.FLIGHT,
                {"id": "F1", "name": "north", "values": {"flight.mount_mode": mode}},
                by="pilot",
            )
        ),
        make_run(Kind.RUN, [first], inputs=flight, values={"run.mount_mode": mode}),
        Addition(
            Draft(Kind.DECISION, {"process": "R1", "decision": "rejected", "reason": "tilted"})
        ),
        make_run(
            Kind.RUN,
            [second, table],
            name="final",
            inputs=[*flight, {"sha256": raw[1].sha256, "path": raw[1].path, "role": "base-log"}],
            values={"run.mount_mode": mode, "run.lever_arm": arm},
            decision="accepted",
            reason="straight",
        ),
        make_run(
            Kind.STEP,
            [cleaned],
            inputs=[{"sha256": second.file.sha256, "path": "out/R2/a.laz", "role": "points"}],
            decision="accepted",
        ),
        Addition(
            Draft(
                Kind.AUDIT,
                {
                    "folder": "deliver",
                    "manifest": compute_digest(manifest),
                    "fingerprints": compute_digest(prints),
                    "findings": compute_digest(findings),
                    "specification": digest,
                    "verdict": "fit to send",
                },
            ),
            (manifest, prints, findings),
            "D",
        ),
        Addition(
            Draft(Kind.ACCEPTANCE, {"finding": "0a1b2c3d4e5f", "reason": "water", "audit": 12})
        ),
        make_list(Kind.RECHECK, "files", [], counts={"as recorded": 6}, book="unbroken"),
    ]


class Ticking:
    """A clock that goes on by a minute each time it is read."""

    def __init__(self) -> None:
        self.moment = START

    def __call__(self) -> datetime:
        """Return the next minute."""
        self.moment += timedelta(minutes=1)
        return self.moment


@pytest.fixture
def writer(tmp_path: Path) -> Iterator[BookWriter]:
    """Give an empty book, open for writing."""
    with create_book(tmp_path, clock=Ticking(), machine="0123abcd") as book:
        yield book


@pytest.fixture(scope="session")
def story_book(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Give the file of a book with every kind of entry; tests work on copies of it."""
    folder = tmp_path_factory.mktemp("story")
    with create_book(folder, clock=Ticking(), machine="0123abcd") as book:
        for item in make_story():
            book.append(item.draft, item.blobs, item.id_prefix)
    return folder / BOOK_NAME


@pytest.fixture
def story_folder(story_book: Path, tmp_path: Path) -> Path:
    """Give the folder of a book with every kind of entry."""
    shutil.copy(story_book, tmp_path)
    return tmp_path


@pytest.fixture
def story_writer(story_folder: Path) -> Iterator[BookWriter]:
    """Give a book with every kind of entry, open for writing."""
    with BookWriter.open(story_folder, clock=Ticking(), machine="0123abcd") as book:
        yield book


@pytest.fixture
def open_behind() -> Iterator[Callable[[Path], sqlite3.Connection]]:
    """Give a way to reach the tables of a book as any other program can."""
    opened: list[sqlite3.Connection] = []

    def open_raw(folder: Path) -> sqlite3.Connection:
        connection = sqlite3.connect(folder / BOOK_NAME, isolation_level=None)
        connection.execute("PRAGMA synchronous = OFF")
        opened.append(connection)
        return connection

    yield open_raw
    for connection in opened:
        connection.close()


@pytest.fixture
def dump_derived() -> Callable[[sqlite3.Connection], dict[str, list[tuple]]]:
    """Give a way to read all derived tables whole."""

    def dump(connection: sqlite3.Connection) -> dict[str, list[tuple]]:
        return {
            name: sorted(connection.execute(f"SELECT * FROM main.{name}"), key=repr)  # noqa: S608
            for name in DERIVED_TABLES
        }

    return dump


@pytest.fixture
def story() -> list[Addition]:
    """Give the entries of the story."""
    return make_story()


@pytest.fixture
def samples() -> dict[str, Callable]:
    """Give the makers of files, fingerprints and entries."""
    return {
        "digest": make_digest,
        "file": make_file,
        "fingerprint": make_fingerprint,
        "list": make_list,
        "run": make_run,
        "plain": lambda kind, **values: Addition(Draft(kind, values)),
        "values": file_to_values,
    }
