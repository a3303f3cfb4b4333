"""Power cuts: the short mode; `python tests/faults/powercuts.py` cuts every command."""

from __future__ import annotations

import random
import shutil
import subprocess
from pathlib import Path

import pytest
from powercuts import Event, Medium, cut_all

DICE = random.Random(1)


def can_watch() -> bool:
    """Say whether `strace` is there, and this system lets it watch."""
    if shutil.which("strace") is None:
        return False
    done = subprocess.run(["strace", "-o", "/dev/null", "true"], check=False, capture_output=True)
    return done.returncode == 0


@pytest.mark.skipif(not can_watch(), reason="strace is not there, or may not watch")
def test_nothing_that_was_told_is_lost_when_the_power_goes(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """At each wait for the medium: the book is unbroken and has what was told, copies are whole."""
    monkeypatch.setenv("SWATHBOOK_HOME", str(tmp_path / "home"))
    tally = cut_all(tmp_path, ("decision", "copy"), cuts=1, seed=1)
    assert tally.faults == []
    assert tally.waits["decision"] >= 4  # journal, journal once more, book, journal cut
    assert tally.cuts.total() > 3 * tally.waits.total() / 2


# The strict file system that cuts are made in has to lose what nobody waited for.


def write_two(tmp_path: Path) -> Medium:
    """Return a medium on which a file was written twice, and renamed, without a wait."""
    (tmp_path / "old").write_bytes(b"old")
    medium = Medium([tmp_path])
    part, name = f"{tmp_path}/part", f"{tmp_path}/name"
    medium.take(Event("openat", (part,)))
    medium.take(Event("write", (part,), b"whole"))
    medium.take(Event("write", (part,), b" content"))
    medium.take(Event("rename", (part, name)))
    return medium


def lay(medium: Medium, tmp_path: Path, share: float) -> dict[str, bytes]:
    """Return what is found after a cut."""
    place = tmp_path.parent / f"laid-{share}-{DICE.random()}"
    medium.lay(DICE, share, {str(tmp_path): place})
    return {path.name: path.read_bytes() for path in place.iterdir()}


def test_without_a_wait_name_and_content_are_lost(tmp_path: Path) -> None:
    """Of what was on its way nothing, everything, or any part arrives."""
    medium = write_two(tmp_path)
    assert lay(medium, tmp_path, 0.0) == {"old": b"old"}
    assert lay(medium, tmp_path, 1.0) == {"old": b"old", "name": b"whole content"}
    found = {str(lay(medium, tmp_path, 0.5)) for _ in range(40)}
    assert len(found) > 4


def test_a_file_that_was_waited_for_still_needs_its_name(tmp_path: Path) -> None:
    """Its content is safe once it was waited for; its name once its folder was."""
    medium = write_two(tmp_path)
    medium.take(Event("fsync", (f"{tmp_path}/name",)))
    assert lay(medium, tmp_path, 0.0) == {"old": b"old"}
    medium.take(Event("fsync", (str(tmp_path),)))
    assert lay(medium, tmp_path, 0.0) == {"old": b"old", "name": b"whole content"}


def test_a_name_that_was_waited_for_does_not_bring_its_content(tmp_path: Path) -> None:
    """The other way round: an empty file under the final name."""
    medium = write_two(tmp_path)
    medium.take(Event("fsync", (str(tmp_path),)))
    assert lay(medium, tmp_path, 0.0) == {"old": b"old", "name": b""}
