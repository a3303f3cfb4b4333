"""A job, a card, and folders that stand in for drives, to be pulled and plugged in elsewhere.

What the system says of volumes is stated by the bench; copying, hashing and the book are real.
"""

from __future__ import annotations

from collections.abc import Container
from dataclasses import dataclass
from pathlib import Path

import pytest

from ledger import copyto, driveplaces, rawplaces
from ledger.cli.frame import main
from ledger.copies import Copies, find_copies
from ledger.drives import Drive
from ledger.model.ask import NoProgress
from ledger.model.entry import Kind
from ledger.register import RegisterOptions, RegisterResult, drafts, register_paths
from ledger.start import start_job
from ledger.store.reading import Book

NAMES = ("cap_p1.bin", "cap_p2.bin", "sub/cap_p3.bin")
PIECE = 300_000
CARD = "uuid:card"


@dataclass(frozen=True)
class Stick(Drive):
    """A folder that stands in for a drive: it is there while its folder is."""

    def is_there(self) -> bool:
        """Say whether it is plugged in."""
        return self.folder.is_dir()


class DriveBench:
    """A job, a card with three files, and drives."""

    def __init__(self, base: Path) -> None:
        """Make job and card."""
        self.base = base
        self.job = base / "computer" / "QM-0412"
        start_job(self.job)
        self.card = base / "card"
        for number, name in enumerate(NAMES):
            path = self.card / name
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(bytes([number]) * (PIECE + number))
        self.ids: dict[Path, str] = {self.job: "uuid:computer"}
        self.free = 1 << 40
        self.largest: int | None = None

    def plug(self, letter: str, name: str = "") -> Path:
        """Connect a drive under a letter; a known one keeps its id and what is on it."""
        folder = self.base / letter
        old = next((path for path, known in self.ids.items() if known == f"label:{name}"), None)
        if old is not None and old != folder and old.exists():
            old.rename(folder)
            del self.ids[old]
        folder.mkdir(exist_ok=True)
        self.ids[folder] = f"label:{name or letter}"
        return folder

    def pull(self, folder: Path) -> Path:
        """Disconnect a drive: what is on it waits beside the bench; return where."""
        away = self.base / "drawer" / self.ids[folder].removeprefix("label:")
        away.parent.mkdir(exist_ok=True)
        folder.rename(away)
        self.ids[away] = self.ids.pop(folder)
        return away

    def open(self, folder: Path, _sources: Container[int] = ()) -> Drive:
        """Return the drive of a folder, as `open_drive` does; here all lie on one device."""
        device = abs(hash(self.ids[folder]))
        return Stick(self.ids[folder], folder, folder, device, self.free, self.largest)

    def find_roots(self, drive: str) -> tuple[Path, ...]:
        """Return where a drive is connected, as the function of that name does."""
        if drive == CARD:
            return (Path(self.card.anchor),) if self.card.exists() else ()
        drawer = self.base / "drawer"
        return tuple(
            path
            for path, known in self.ids.items()
            if known == drive and path.exists() and not path.is_relative_to(drawer)
        )

    def find_id(self, folder: Path) -> str:
        """Return the id of the drive of a folder, as the function of that name does."""
        return self.ids.get(folder, CARD)

    def register(self, *drives: Path, flight: str = "F1") -> RegisterResult:
        """Register the card, with copies on drives."""
        options = RegisterOptions(flight=flight, copy_to=drives)
        return register_paths(self.job, [self.card], options, NoProgress())

    def sightings(self) -> list[dict[str, object]]:
        """Return the entries that say that copies were read back."""
        with Book.open(self.job) as book:
            found = book.entries(Kind.SIGHTING)
            return [dict(entry.values) for entry in found if entry.values.get("reread")]

    def copies(self) -> Copies:
        """Return where the raw files lie, by the book."""
        with Book.open(self.job) as book:
            return find_copies(book)

    def run(self, *words: str) -> int:
        """Return the exit status of a command."""
        return main(["--job", str(self.job), *words])

    def find(self, drive: Path, name: str = "cap_p1.bin") -> Path:
        """Return the copy of a file on a drive."""
        base = drive if drive == self.job else drive / self.job.name
        return base / "raw" / "F1" / "card" / name


def make_drive_bench(base: Path, monkeypatch: pytest.MonkeyPatch) -> DriveBench:
    """Return a bench whose drives the program believes in."""
    made = DriveBench(base)
    monkeypatch.setattr(copyto, "open_drive", made.open)
    monkeypatch.setattr(driveplaces, "find_roots", made.find_roots)
    monkeypatch.setattr(rawplaces, "find_id", made.find_id)
    monkeypatch.setattr(drafts, "find_id", made.find_id)
    return made
