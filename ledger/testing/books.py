"""`BookBuilder`: a job's book made entry by entry, with a clock that the test knows.

Entries are stored as the commands store them, but nothing is asked and nothing is checked: a test
can put into a book whatever an older or a broken program might have put there.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping
from datetime import UTC, datetime, timedelta
from pathlib import Path
from types import TracebackType
from typing import Any, Self

from ledger.canonical import compute_digest, encode
from ledger.merkle import compute_root, hash_leaf
from ledger.model.artefact import FileRecord, FingerprintValue, Output
from ledger.model.entry import Draft, Entry
from ledger.model.filename import make_book_path
from ledger.model.known import KnownBy, KnownValue
from ledger.store.mapping import file_to_values, fingerprint_to_values, output_to_values
from ledger.store.writing import create_book

FIRST_DAY = datetime(2026, 5, 14, 8, 0, tzinfo=UTC)


def make_fingerprint(points: str, full: str = "", count: int = 3) -> FingerprintValue:
    """Return a fingerprint that is equal for equal words; `full` stands for the other fields."""
    geometry = hashlib.md5(points.encode(), usedforsecurity=False).hexdigest()
    whole = hashlib.md5(f"{points}|{full}".encode(), usedforsecurity=False).hexdigest()
    return FingerprintValue("test-1", count, geometry, geometry, whole)


def known(value: object, unit: str = "", by: KnownBy = KnownBy.TYPED) -> KnownValue:
    """Return a recorded value; carried and assumed ones are not confirmed."""
    sure = by not in (KnownBy.CARRIED, KnownBy.ASSUMED)
    return KnownValue(value, unit=unit, known_by=by, confirmed=sure)


class BookBuilder:
    """Makes a job folder with a book; one entry an hour from 14 May 2026, 08:00 UTC.

        book = BookBuilder(tmp_path / "job")
        book.write("raw/flight.bin", "bytes")
        book.register("raw/flight.bin", flight="F1")
        book.card("flight", "F1", {"flight.mount_mode": known("drone")})
        book.write("out/tile.laz", "points")
        book.run("out/tile.laz", flights=["F1"])
        book.close()

    Attributes:
        folder: the job folder.
        now: the time of the next entry, less an hour.
        writer: the open book.
    """

    def __init__(self, folder: Path) -> None:
        """Make an empty book in `folder`."""
        folder.mkdir(parents=True, exist_ok=True)
        self.folder = folder
        self.now = FIRST_DAY - timedelta(hours=1)
        self.writer = create_book(folder, clock=lambda: self.now, machine="test")
        # A test needs no book that outlives a power cut, and waiting for the disk takes minutes.
        for pragma in ("synchronous = OFF", "journal_mode = MEMORY"):
            self.writer._connection.execute(f"PRAGMA {pragma}")  # noqa: SLF001 - no public switch, on purpose

    def close(self) -> None:
        """Close the book, so that readers open it anew."""
        self.writer.close()

    def __enter__(self) -> Self:
        """Use as a context that closes the book."""
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """Close the book."""
        self.close()

    def write(self, path: str, content: str) -> Path:
        """Write a file of the job."""
        place = self.folder / path
        place.parent.mkdir(parents=True, exist_ok=True)
        place.write_text(content, encoding="utf-8")
        return place

    def see(self, path: str, role: str = "points", **facts: object) -> FileRecord:
        """Return the record of a file that is there."""
        place = self.folder / path
        stored, raw = make_book_path(place, self.folder)
        found = place.stat()
        digest = compute_digest(place.read_bytes())
        return FileRecord(
            stored, digest, found.st_size, found.st_mtime_ns, role, facts, path_bytes=raw
        )

    def register(self, *paths: str, flight: str = "", role: str = "capture") -> Entry:
        """Enter raw files."""
        records = [self.see(path, role) for path in paths]
        total = sum(record.bytes for record in records)
        return self._list("files", records, flight=flight, volume="", bytes=total)

    def sight(self, *records: FileRecord, **values: object) -> Entry:
        """Enter files that were come across, with what else the entry says."""
        return self._list("sighting", records, **values)

    def card(self, kind: str, name: str, values: Mapping[str, KnownValue] | None = None) -> Entry:
        """Enter a `flight` (`F1`) or a `rig` (`G1`) with its record fields by key."""
        return self._append(kind, {"id": name, "name": "", "values": _store(values)})

    def run(  # noqa: PLR0913 - the parts of one entry
        self,
        *outputs: str | Output,
        inputs: Iterable[Mapping[str, str]] = (),
        flights: Iterable[str] = (),
        decision: str = "accepted",
        reason: str = "",
        kind: str = "run",
        values: Mapping[str, KnownValue] | None = None,
    ) -> str:
        """Enter a run or step with files that are there as outputs; return its id.

        Args:
            outputs: paths in the job folder, or what `output` returns.
            inputs: what it used, file by file, from `use`.
            flights: ids of flights of which it used every file.
            decision: `accepted`, `rejected`, `superseded` or `undecided`.
            reason: why it was decided so.
            kind: `run` or `step`.
            values: record fields by key.
        """
        made = [
            Output(self.see(output), points=3) if isinstance(output, str) else output
            for output in outputs
        ]
        content = encode([output_to_values(output) for output in made])
        entry = self._append(
            kind,
            {
                "name": "",
                "values": _store(values),
                "inputs": [*({"flight": flight} for flight in flights), *map(dict, inputs)],
                "outputs": compute_digest(content),
                "output_count": len(made),
                "decision": decision,
                "reason": reason,
                "left_out": [],
            },
            blobs=(content,),
            prefix="R" if kind == "run" else "S",
        )
        return str(entry.values["id"])

    def step(self, *outputs: str | Output, **parts: Any) -> str:  # noqa: ANN401 - parts of run
        """Enter a step; return its id."""
        return self.run(*outputs, kind="step", **parts)

    def output(self, path: str, fingerprint: FingerprintValue) -> Output:
        """Return an output whose points were read."""
        return Output(self.see(path), points=fingerprint.count, fingerprint=fingerprint)

    def use(self, path: str, role: str = "points") -> dict[str, str]:
        """Return an input that is a file."""
        record = self.see(path)
        return {"sha256": record.sha256, "path": record.path, "role": role}

    def decide(self, process: str, decision: str, reason: str = "") -> Entry:
        """Enter a later decision."""
        return self._append(
            "decision", {"process": process, "decision": decision, "reason": reason}
        )

    def audit(  # noqa: PLR0913 - the parts of one entry
        self,
        folder: str,
        *,
        name: str = "D1",
        verdict: str = "fit to send",
        fingerprints: Mapping[str, FingerprintValue] | None = None,
        unread: Iterable[str] = (),
        blobs: tuple[bytes, ...] = (),
        **values: object,
    ) -> Entry:
        """Enter an audit of a folder that is there; `unread` names files that have no digest."""
        place = self.folder / folder
        rows, seen = [], []
        for path in sorted(path for path in place.rglob("*") if path.is_file()):
            inner, raw = make_book_path(path, place)
            digest = "" if inner in unread else compute_digest(path.read_bytes())
            found = path.stat()
            rows.append({"path": inner, "sha256": digest, "bytes": found.st_size})
            seen.append(
                {
                    "path": inner,
                    "path_bytes": raw,
                    "mtime_ns": str(found.st_mtime_ns),
                    "file_id": "",
                }
            )
        manifest, noted, none = encode(rows), encode(seen), encode([])
        wishes = self.folder / "job.toml"
        read = encode(
            {
                self.see(f"{folder}/{path}").sha256: fingerprint_to_values(value)
                for path, value in (fingerprints or {}).items()
            }
        )
        given = {
            "id": name,
            "folder": folder,
            "manifest": compute_digest(manifest),
            "manifest_sha256": compute_digest(manifest),
            "manifest_root": _compute_root(rows),
            "seen": compute_digest(noted),
            "fingerprints": compute_digest(read),
            "specification": compute_digest(wishes.read_bytes()) if wishes.exists() else "",
            "verdict": verdict,
            "quick": False,
            "required": [],
            "findings": compute_digest(none),
            **values,
        }
        return self._append("audit", given, blobs=(manifest, noted, read, none, *blobs))

    def enter(self, kind: str, values: Mapping[str, Any], blobs: Iterable[bytes] = ()) -> Entry:
        """Enter anything else."""
        return self._append(kind, values, blobs=tuple(blobs))

    def _list(self, kind: str, records: Iterable[FileRecord], **values: object) -> Entry:
        listed = [file_to_values(record) for record in records]
        manifest = encode(listed)
        given = {**values, "manifest": compute_digest(manifest), "count": len(listed)}
        return self._append(kind, given, blobs=(manifest,))

    def _append(
        self,
        kind: str,
        values: Mapping[str, Any],
        blobs: tuple[bytes, ...] = (),
        prefix: str = "",
    ) -> Entry:
        self.now += timedelta(hours=1)
        return self.writer.append(Draft(kind, values), blobs, prefix)


def _store(values: Mapping[str, KnownValue] | None) -> dict[str, Any]:
    return {key: value.to_values() for key, value in (values or {}).items()}


def _compute_root(rows: Iterable[Mapping[str, Any]]) -> str:
    """Return the root over path and digest of each file, hex, as the page of the book says."""
    leaves = (encode({"path": row["path"], "sha256": row["sha256"]}) for row in rows)
    return compute_root(hash_leaf(leaf) for leaf in leaves).hex()
