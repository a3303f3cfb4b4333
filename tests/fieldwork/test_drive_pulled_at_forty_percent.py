"""A drive is pulled at 40 % of a copy and plugged in under another letter.

Copying goes on at the file that it stopped in, no file is hashed twice, and the card's lamp stays
"not yet" until two whole copies were read back. Folders stand in for drives here; with file systems
that are mounted and pulled the same is tested in `tests/register/test_real_drives.py`.
"""

from __future__ import annotations

import errno
import os
from collections.abc import Sequence
from pathlib import Path

import pytest
from drive_bench import DriveBench, make_drive_bench

from ledger import copying, copyto
from ledger.model.ask import Progress

COUNT = 10
SIZE = 200_000
FILES = [f"cap_{number:02}.bin" for number in range(COUNT)]
STOPPED_IN = 4  # 40 % are the files 0 to 3, and a piece of this one


@pytest.fixture
def bench(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> DriveBench:
    """Return a bench whose card holds ten files of one size."""
    made = make_drive_bench(tmp_path, monkeypatch)
    for path in sorted(made.card.rglob("*"), reverse=True):
        path.rmdir() if path.is_dir() else path.unlink()
    for number, name in enumerate(FILES):
        (made.card / name).write_bytes(bytes([number]) * SIZE)
    return made


@pytest.fixture
def hashed(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Return the files of the card that were read and hashed, in order."""
    seen: list[str] = []
    real = copying.copy_verified

    def watch(source: Path, targets: Sequence[Path], progress: Progress) -> object:
        seen.append(source.name)
        return real(source, targets, progress)

    monkeypatch.setattr(copyto, "copy_verified", watch)
    return seen


def pull_at(monkeypatch: pytest.MonkeyPatch, drive: Path, share: float) -> None:
    """Pull a drive once that share of the card's bytes has been written to it."""
    if not Path("/proc/self/fd").is_dir():
        pytest.skip("no way here to tell which file is written to")
    left = [share * COUNT * SIZE]
    real = os.write

    def write(descriptor: int, piece: memoryview) -> int:
        if str(drive) in str(Path(f"/proc/self/fd/{descriptor}").readlink()):
            left[0] -= len(piece)
            if left[0] < 0:
                drive.rename(drive.with_name("pulled"))
                raise OSError(errno.ENODEV, os.strerror(errno.ENODEV))
        return real(descriptor, piece)

    monkeypatch.setattr(os, "write", write)


def read_lamp(bench: DriveBench, capsys: pytest.CaptureFixture[str]) -> str:
    """Return what the bare command says of the card."""
    capsys.readouterr()
    bench.run()
    shown = " ".join(capsys.readouterr().out.split())
    return shown.partition(" card ")[2].partition(" rig ")[0]


def test_copying_goes_on_at_the_file_it_stopped_in_and_none_is_hashed_twice(
    bench: DriveBench,
    hashed: list[str],
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    """Drive E is pulled at 40 %, comes back as G, and a second drive follows."""
    stick = bench.plug("E", "stick")
    with monkeypatch.context() as patch:
        pull_at(patch, stick, 0.4)
        stopped = bench.register(stick)
    assert not stopped.is_complete
    assert hashed == FILES[: STOPPED_IN + 1]  # nothing more is read once the drive is gone
    assert [Path(each.path).name for each in stopped.left_out] == FILES[STOPPED_IN + 1 :]
    assert all("no drive is left to copy it to" in each.why for each in stopped.left_out)
    assert not stopped.copies.card_may_be_cleared
    assert read_lamp(bench, capsys).startswith("Do not clear the card")

    hashed.clear()
    bench.ids[bench.base / "pulled"] = bench.ids.pop(stick)
    moved = bench.plug("G", "stick")
    first = bench.register(moved)
    assert first.is_complete
    assert first.left_out == ()
    assert hashed == FILES[STOPPED_IN:]
    assert first.resumed == STOPPED_IN
    for name in FILES:
        copy = moved / bench.job.name / "raw" / "F1" / "card" / name
        assert copy.read_bytes() == (bench.card / name).read_bytes()
    assert (first.copies.good, first.copies.card_may_be_cleared) == (1, False)
    assert read_lamp(bench, capsys).startswith("Do not clear the card")

    second = bench.register(bench.plug("F", "other"))
    assert (second.copies.good, second.copies.card_may_be_cleared) == (2, True)
    assert read_lamp(bench, capsys).startswith("The card may be cleared")
