"""Registering with copies: each file read once, each copy read back, and the card's lamp.

Folders stand in for drives: what the system says of their volumes is stated by the tests.
"""

from __future__ import annotations

import errno
import json
import os
import shutil
from pathlib import Path

import pytest
from click.testing import CliRunner
from drive_bench import NAMES, PIECE, make_drive_bench

from ledger import copying, copyto
from ledger.cli.frame import swathbook
from ledger.copying import Copy
from ledger.drives import open_drive
from ledger.errors import FaultsError, UsageError
from ledger.model.ask import NoProgress
from ledger.register import RegisterOptions, register_paths
from ledger.store.reading import Book
from ledger.store.writing import BookWriter


@pytest.fixture
def bench(tmp_path, monkeypatch):
    """Return a bench whose drives the program believes in."""
    return make_drive_bench(tmp_path, monkeypatch)


@pytest.fixture
def reads(monkeypatch):
    """Return the names of the sources that were read, in order."""
    seen: list[str] = []
    real = copying.copy_verified

    def watch(source, targets, progress):
        seen.append(source.name)
        return real(source, targets, progress)

    monkeypatch.setattr(copyto, "copy_verified", watch)
    return seen


def list_files(folder: Path) -> dict[str, bytes]:
    """Return the files below a folder with their content, the book apart."""
    return {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for path in folder.rglob("*")
        if path.is_file() and not path.name.startswith("swathbook.sqlite")
    }


def test_two_drives_get_every_file_and_the_card_may_be_cleared(bench, reads):
    """Each file is read once; the job folder is one of the drives."""
    stick = bench.plug("E")
    result = bench.register(bench.job, stick)
    assert result.is_complete
    assert result.copies.card_may_be_cleared
    assert sorted(reads) == sorted(Path(name).name for name in NAMES)
    raw = list_files(bench.job / "raw")
    assert raw == {f"F1/card/{name}": (bench.card / name).read_bytes() for name in NAMES}
    assert list_files(stick / "QM-0412" / "raw") == raw
    assert [(values["volume"], values["count"]) for values in bench.sightings()] == [
        ("uuid:computer", 3),
        ("label:E", 3),
    ]


def test_one_drive_is_not_enough_until_a_second_one_follows(bench):
    """The lamp says no, and yes after the same command with another drive."""
    assert not bench.register(bench.plug("E")).copies.card_may_be_cleared
    assert bench.register(bench.plug("F")).copies.card_may_be_cleared


def test_the_same_drive_twice_is_one_copy(bench):
    """Under another letter it is the same drive, and its identical files are read, not written."""
    bench.register(bench.plug("E", "stick"))
    again = bench.register(bench.plug("G", "stick"))
    assert not again.copies.card_may_be_cleared
    (drive,) = again.drives
    assert all(copy.found for copy in drive.copies.values())


def test_a_book_goes_along(bench):
    """The drive holds the book as it was after the entry about its copies."""
    stick = bench.plug("E")
    bench.register(stick)
    with Book.open(stick / "QM-0412") as copy, Book.open(bench.job) as book:
        assert copy.root == book.root
        assert copy.check(NoProgress()).unbroken


def test_the_folder_on_a_drive_is_a_job_that_goes_on(bench, tmp_path):
    """Copied back whole after the computer was lost: book, wishes and raw files are there."""
    (bench.job / "job.toml").write_text('[job]\nreference = "QM-0412"\n', encoding="utf-8")
    stick = bench.plug("E")
    bench.register(bench.job, stick)
    restored = tmp_path / "restored"
    shutil.copytree(stick / "QM-0412", restored)
    assert (restored / "job.toml").read_bytes() == (bench.job / "job.toml").read_bytes()
    (restored / "out").mkdir()
    (restored / "out" / "dtm.tif").write_bytes(b"x")
    shutil.rmtree(bench.job)
    command = ["--job", str(restored), "audit", "out", "--quick"]
    audited = CliRunner().invoke(swathbook, command)
    assert audited.exit_code in {1, 3}, audited.output
    rechecked = CliRunner().invoke(swathbook, ["--job", str(restored), "recheck"])
    assert "missing" not in rechecked.output


def test_a_job_toml_that_the_book_never_held_is_left_on_the_drive(bench):
    """Somebody wrote it there: it is told, and the old text of ours is brought up to date."""
    wishes = bench.job / "job.toml"
    wishes.write_text("# first\n", encoding="utf-8")
    stick = bench.plug("E")
    bench.register(stick)
    wishes.write_text("# second\n", encoding="utf-8")
    bench.register(stick)
    copied = stick / "QM-0412" / "job.toml"
    assert copied.read_text(encoding="utf-8") == "# second\n"
    copied.write_text("# of somebody\n", encoding="utf-8")
    (drive,) = bench.register(stick).drives
    (fault,) = drive.faults
    assert "another job.toml lies there" in str(fault)
    assert copied.read_text(encoding="utf-8") == "# of somebody\n"


def pull_after(monkeypatch, letter: Path, count: int) -> None:
    """Let a drive be pulled once some bytes were written to it."""
    real, left = os.write, [count]

    def write(descriptor: int, piece: memoryview) -> int:
        if str(letter) in str(Path(f"/proc/self/fd/{descriptor}").readlink()):
            left[0] -= len(piece)
            if left[0] < 0:
                letter.rename(letter.with_name("pulled"))
                raise OSError(errno.ENODEV, os.strerror(errno.ENODEV))
        return real(descriptor, piece)

    monkeypatch.setattr(os, "write", write)


def test_a_pulled_drive_goes_on_at_the_file_it_stopped_in(bench, reads, monkeypatch):
    """Plugged in under another letter, nothing that was copied is read or hashed again."""
    stick = bench.plug("E", "stick")
    with monkeypatch.context() as patch:
        pull_after(patch, stick, PIECE + PIECE // 2)
        first = bench.register(bench.job, stick)
    assert not first.is_complete
    assert not first.copies.card_may_be_cleared
    told = [fault.sentence() for fault in first.drives[1].faults]
    assert any("no longer connected" in line for line in told)
    assert len(told) <= 2
    assert not stick.exists()  # nothing was written where the drive had been
    reads.clear()
    bench.ids[bench.base / "pulled"] = bench.ids.pop(stick)
    second = bench.register(bench.job, bench.plug("F", "stick"))
    assert second.is_complete
    assert second.copies.card_may_be_cleared
    copied = sorted(Path(name).name for name in NAMES)
    assert sorted(reads) == copied[1:]
    assert second.resumed == 1


def test_an_interruption_enters_nothing_and_is_gone_on_with(bench, reads):
    """Ctrl-C after the first file: the book is as it was, and that file is not read again."""

    class Stop(NoProgress):
        told = 0

        def advance(self, amount: int) -> None:
            self.told += amount
            if self.told > 2 * PIECE + 10:
                raise KeyboardInterrupt

    with Book.open(bench.job) as book:
        before = book.size
    options = RegisterOptions(copy_to=(bench.plug("E"),))
    with pytest.raises(KeyboardInterrupt):
        register_paths(bench.job, [bench.card], options, Stop())
    with Book.open(bench.job) as book:
        assert book.size == before
    reads.clear()
    result = register_paths(bench.job, [bench.card], options, NoProgress())
    assert result.resumed == 1
    assert sorted(reads) == ["cap_p2.bin", "cap_p3.bin"]


def test_another_file_in_the_way_is_left_and_told(bench):
    """Nothing is overwritten; the other files are copied, and the card stays."""
    stick = bench.plug("E")
    way = stick / "QM-0412" / "raw" / "F1" / "card" / "cap_p1.bin"
    way.parent.mkdir(parents=True)
    way.write_bytes(b"somebody's")
    result = bench.register(bench.job, stick)
    assert way.read_bytes() == b"somebody's"
    assert not result.is_complete
    assert not result.copies.card_may_be_cleared
    assert len(result.drives[1].copies) == 2


@pytest.mark.parametrize(("free", "largest", "words"), [
    (70_000_000, 10, "too large"),
    (1000, None, "too full"),
])  # fmt: skip
def test_a_drive_without_room_is_refused_before_the_first_byte(bench, reads, free, largest, words):
    """Neither copied nor entered."""
    bench.free, bench.largest = free, largest
    stick = bench.plug("E")
    with pytest.raises(FaultsError, match=words):
        bench.register(stick)
    assert reads == []
    assert list_files(stick) == {}


def test_a_drive_that_holds_the_files_needs_no_more_room(bench):
    """Identical files are read, and take nothing."""
    stick = bench.plug("E")
    bench.register(stick)
    bench.free = 0
    assert bench.register(stick).is_complete


def test_a_trace_names_the_drives_as_they_were_plugged_in(bench):
    """Not by the number that a label holds: nobody knows a stick by that."""
    stick = bench.plug("E")
    bench.register(bench.job, stick)
    ran = CliRunner().invoke(swathbook, ["--job", str(bench.job), "trace", "F1"])
    told = "".join(ran.output.split())
    assert "".join(f"{stick} (3 files, read back".split()) in told
    assert "thejob'sowndrive(3files,readback" in told
    assert "label:" not in told.partition("copies")[2].partition("assumed")[0]


def test_copies_on_the_card_or_twice_on_a_drive_are_refused(bench, monkeypatch):
    """They would be no second copy."""
    stick = bench.plug("E")
    other = bench.plug("F")
    bench.ids[other] = bench.ids[stick]
    with pytest.raises(UsageError, match="two of the folders"):
        bench.register(stick, other)
    monkeypatch.setattr(copyto, "open_drive", open_drive)
    with pytest.raises(UsageError, match="lie on that drive themselves"):
        bench.register(stick)


def test_a_copy_that_a_recheck_finds_changed_no_longer_counts(bench):
    """The lamp goes out again."""
    stick = bench.plug("E")
    bench.register(bench.job, stick)
    victim = stick / "QM-0412" / "raw" / "F1" / "card" / "cap_p1.bin"
    victim.write_bytes(b"?" * PIECE)
    CliRunner().invoke(swathbook, ["--job", str(bench.job), "recheck"])
    shown = CliRunner().invoke(swathbook, ["--job", str(bench.job)])
    assert "Do not clear the card" in shown.output


def test_the_command_says_what_was_copied_where(bench):
    """Screen, JSON and exit status."""
    stick = bench.plug("E")
    words = ["--job", str(bench.job), "register", str(bench.card), "--flight", "F1"]
    drives = ["--copy-to", str(bench.job), "--copy-to", str(stick)]
    shown = CliRunner().invoke(swathbook, [*words, *drives])
    assert shown.exit_code == 0, shown.output
    assert "3 files copied; each was read back" in " ".join(shown.output.split())
    assert "The card may be cleared" in shown.output
    stored = json.loads(CliRunner().invoke(swathbook, [*words, *drives, "--json"]).output)
    assert stored["card_may_be_cleared"] is True
    assert [(each["copied"], each["found"]) for each in stored["drives"]] == [(0, 3), (0, 3)]
    (stick / "QM-0412" / "raw" / "F1" / "card" / "cap_p2.bin").write_bytes(b"other")
    failed = CliRunner().invoke(swathbook, [*words, *drives])
    assert failed.exit_code == 1
    assert "nothing is overwritten" in " ".join(failed.output.split())


def test_a_copy_says_whether_it_was_read_past_the_cache(bench, monkeypatch):
    """Where the system takes no advice, the entry and the screen say so."""
    monkeypatch.delattr(os, "posix_fadvise", raising=False)
    result = bench.register(bench.plug("E"))
    assert not result.drives[0].past_cache
    assert [values["past_cache"] for values in bench.sightings()] == [False]
    assert all(isinstance(copy, Copy) for copy in result.drives[0].copies.values())


def test_a_file_that_cannot_be_read_is_left_out_of_the_copies_too(bench, monkeypatch):
    """One bad sector costs one file; the others are copied, and the card is not to be cleared."""
    bad = bench.card / "cap_p2.bin"
    really_open = os.open

    def refuse(path, flags, *rest, **more):
        if os.fspath(path) == str(bad):
            raise OSError(errno.EIO, "Input/output error", path)
        return really_open(path, flags, *rest, **more)

    with monkeypatch.context() as patch:
        patch.setattr(os, "open", refuse)
        result = bench.register(bench.job, bench.plug("E"))
    assert len(result.files) == 2
    (left_out,) = result.left_out
    assert left_out.path == bad.as_posix()
    assert "the drive could not read it" in left_out.why
    assert [len(each.copies) for each in result.drives] == [2, 2]
    assert result.copies.good == 2
    assert not result.copies.card_may_be_cleared
    assert "cap_p2.bin could not be read and is in no copy" in result.copies.answer
    assert not result.is_complete
    again = bench.register(bench.job, bench.base / "E")
    assert (again.resumed, len(again.files), again.left_out) == (2, 3, ())
    assert again.copies.card_may_be_cleared


def test_a_file_that_goes_away_while_it_is_copied_stops_all(bench, monkeypatch):
    """Nothing is entered, and what to do is said."""
    really_copy = copying.copy_verified

    def lose(source, *parts):
        (bench.card / "sub" / "cap_p3.bin").unlink(missing_ok=True)
        return really_copy(source, *parts)

    monkeypatch.setattr(copyto, "copy_verified", lose)
    with pytest.raises(FaultsError, match=r"cap_p3\.bin: the file went away.*nothing was entered"):
        bench.register(bench.plug("E"))
    with Book.open(bench.job) as book:
        assert [entry.kind for entry in book.entries()] == ["job", "specification"]


def test_all_that_a_call_with_copies_enters_is_one_unit(bench, monkeypatch):
    """An interruption between files and copies leaves neither in the book."""
    add = BookWriter._add
    added: list[object] = []

    def break_off(self, *parts):
        if len(added) == 2:
            raise KeyboardInterrupt
        added.append(parts)
        return add(self, *parts)

    with monkeypatch.context() as patch:
        patch.setattr(BookWriter, "_add", break_off)
        with pytest.raises(KeyboardInterrupt):
            bench.register(bench.plug("E"))
    with Book.open(bench.job) as book:
        assert [entry.kind for entry in book.entries()] == ["job", "specification"]
    assert bench.register(bench.base / "E").resumed == 3
    assert len(bench.sightings()) == 1


def test_a_drive_beside_the_job_is_not_in_it(bench, monkeypatch):
    """Named by a path that goes up, as by hand: absolute in the book, the folder's name kept."""
    stick = bench.plug("E")
    monkeypatch.chdir(bench.job)
    bench.ids[Path("../../E")] = bench.ids[stick]
    real = bench.open
    monkeypatch.setattr(
        copyto, "open_drive", lambda folder, _: real(stick) if folder != bench.job else real(folder)
    )
    options = RegisterOptions(flight="F1", copy_to=(bench.job, Path("../../E")))
    result = register_paths(bench.job, [Path("../../card")], options, NoProgress())
    assert result.copies.card_may_be_cleared
    assert not [place.path for place in result.copies.places if ".." in place.path]
    assert bench.find(stick).is_file()
    assert bench.find(bench.job).is_file()
