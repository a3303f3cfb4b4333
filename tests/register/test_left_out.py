"""Files that cannot be read, drives that are pulled, and calls that were stopped."""

from __future__ import annotations

import os
import shutil
from pathlib import Path

import pytest
from job_bench import JobBench
from registered import NO_PROGRESS, Counts, enter

from ledger import content, fixity, register
from ledger.copies import Copies, find_copies
from ledger.errors import FaultsError
from ledger.fixity import read_fixity, read_many
from ledger.register import (
    RegisterOptions,
    drafts,
    gathering,
    register_paths,
)
from ledger.store.reading import Book
from ledger.store.writing import BookWriter
from ledger.volumes import Volume


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="this system has no pipes in folders")
def test_what_cannot_be_read_is_left_out_by_name(bench: JobBench) -> None:
    """Dead links, loops, pipes and links to folders do not hold up the rest, and are entered."""
    raw = bench.write("raw/good.txt", b"good").parent
    (raw / "broken").symlink_to("nothing")
    (raw / "loop").symlink_to("loop")
    (raw / "round").symlink_to("..", target_is_directory=True)
    os.mkfifo(raw / "pipe")
    result = enter(bench, "raw", flight="F1")
    assert [file.record.path for file in result.files] == ["raw/good.txt"]
    told = {each.path: each.why for each in result.left_out}
    assert list(told) == ["raw/broken", "raw/loop", "raw/pipe", "raw/round"]
    assert "a link that leads to nothing" in told["raw/broken"]
    assert "in a circle" in told["raw/loop"]
    assert "a pipe, not a file" in told["raw/pipe"]
    assert "a link to a folder, which is not followed" in told["raw/round"]
    *_, entry = bench.read_journal()
    assert (entry.seq, entry.kind) == (result.entry, "files")
    assert (entry.values["count"], entry.values["left_out_count"]) == (1, 4)
    listed = bench.read_list(entry, "left_out")
    assert [(row["path"], row["path_bytes"]) for row in listed] == [(path, "") for path in told]
    assert [row["why"] for row in listed] == list(told.values())
    assert not any(row["may_hold_data"] for row in listed)
    assert result.copies.left_out == ()
    again = enter(bench, "raw")
    *_, entry = bench.read_journal()
    assert (entry.kind, entry.values["left_out_count"]) == ("sighting", 4)
    assert (again.resumed, len(again.left_out)) == (0, 4)


def test_where_all_is_read_nothing_is_said_of_what_was_left_out(bench: JobBench) -> None:
    """An entry without anything left out has no list of it."""
    bench.write("raw/a.txt", b"a")
    assert enter(bench, "raw").left_out == ()
    *_, entry = bench.read_journal()
    assert {"left_out", "left_out_count"}.isdisjoint(entry.values)


def test_a_folder_of_nothing_that_can_be_read_is_refused(bench: JobBench) -> None:
    """Where nothing is entered, that is said in each of a few lines, however many there are."""
    for number in range(40):
        (bench.job / "raw" / f"{number:02d}").symlink_to("nothing")
    with pytest.raises(FaultsError) as caught:
        enter(bench, "raw")
    lines = str(caught.value).splitlines()
    assert len(lines) == 11
    assert all("nothing was entered" in line for line in lines)
    assert lines[-1].startswith("30 more files")
    assert len(bench.read_journal()) == 2


class BadSector:
    """A drive on which some files cannot be read."""

    def __init__(self, *bad: Path) -> None:
        """Say which files."""
        self.bad = {str(path) for path in bad}
        self._open = os.open

    def open(self, path: str, flags: int, *rest: int, **more: int) -> int:
        """Open a file as the system does, or fail as a drive does."""
        if os.fspath(path) in self.bad:
            raise OSError(5, "Input/output error", path)
        return self._open(path, flags, *rest, **more)


def test_a_file_that_the_drive_cannot_read_is_left_out_and_tried_again(
    bench: JobBench, monkeypatch: pytest.MonkeyPatch
) -> None:
    """One bad sector costs one file; the next try reads that file alone."""
    for name in ("a", "b", "c"):
        bench.write(f"raw/{name}.txt", name.encode())
    with monkeypatch.context() as patch:
        patch.setattr(os, "open", BadSector(bench.job / "raw" / "b.txt").open)
        result = enter(bench, "raw")
    assert len(result.files) == 2
    (left_out,) = result.left_out
    assert left_out.path == "raw/b.txt"
    assert "the drive could not read it" in left_out.why
    assert left_out.may_hold_data
    for copies in (result.copies, find_now(bench)):
        assert copies.left_out == ("raw/b.txt",)
        assert copies.answer == (
            "Do not clear the card: raw/b.txt could not be read and is in no copy."
        )
    again = enter(bench, "raw")
    assert again.copies.left_out == ()
    assert (again.resumed, [file.new for file in again.files]) == (2, [False, True, False])
    assert enter(bench, "raw").resumed == 0


def find_now(bench: JobBench) -> Copies:
    """Return where the raw files lie, as the bare command asks it."""
    with Book.open(bench.job) as book:
        return find_copies(book)


def test_what_could_not_be_read_is_remembered_until_it_is_entered_or_gone(
    bench: JobBench, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A register of other files forgets nothing; a file that is there no more holds nothing."""
    bad = bench.write("raw/bad.txt", b"bad")
    for name in ("a", "b"):
        bench.write(f"raw/{name}.txt", name.encode())
    monkeypatch.setattr(os, "open", BadSector(bad).open)
    enter(bench, "raw")
    enter(bench, "raw/a.txt")
    bench.write("geoid/g.txt", b"g")
    enter(bench, "geoid")
    assert find_now(bench).left_out == ("raw/bad.txt",)
    shown = bench.run()
    assert "raw/bad.txt could not be read" in " ".join(shown.out.split())
    bad.unlink()
    assert find_now(bench).left_out == ()


def test_a_drive_that_was_pulled_stops_all(
    bench: JobBench, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Half a card must not pass for a whole one; what was read is kept for the next try."""
    for number in range(40):
        bench.write(f"raw/{number:02d}.txt", b"%d" % number)
    aside = bench.job / "aside"

    def pull(paths, progress):
        for number, (path, outcome) in enumerate(read_many(paths, progress, threads=1)):
            yield path, outcome
            if number == 4:
                (bench.job / "raw").rename(aside)

    monkeypatch.setattr(gathering, "read_many", pull)
    monkeypatch.setattr(fixity, "_AHEAD", 1)
    with pytest.raises(FaultsError) as caught:
        enter(bench, "raw")
    lines = str(caught.value).splitlines()
    assert len(lines) == 11
    assert all("nothing was entered" in line for line in lines)
    assert "connect the drive again" in lines[0]
    assert "type the same command again" in lines[0]
    assert len(bench.read_journal()) == 2
    aside.rename(bench.job / "raw")
    monkeypatch.undo()
    monkeypatch.setenv("SWATHBOOK_HOME", str(bench.base / "home"))
    result = enter(bench, "raw")
    assert result.resumed in (5, 6)
    assert len(result.files) == 40


def test_an_interrupted_call_goes_on_where_it_stopped(
    bench: JobBench, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What was hashed before the drive was pulled is not hashed again, and then forgotten."""
    for number in range(6):
        bench.write(f"raw/{number}.txt", b"x" * (number + 1))
    read: list[str] = []

    def stop_after(count: int):
        def pull(paths, progress):
            for path, outcome in read_many(paths, progress, threads=1):
                if len(read) == count:
                    raise KeyboardInterrupt
                read.append(path.name)
                yield path, outcome

        return pull

    monkeypatch.setattr(gathering, "read_many", stop_after(4))
    with pytest.raises(KeyboardInterrupt):
        enter(bench, "raw")
    assert len(bench.read_journal()) == 2
    monkeypatch.setattr(gathering, "read_many", stop_after(-1))
    result = enter(bench, "raw")
    assert (result.resumed, len(result.files)) == (4, 6)
    assert read == [f"{number}.txt" for number in range(6)]
    assert enter(bench, "raw").resumed == 0


def test_a_file_that_changed_after_the_interruption_is_hashed_again(
    bench: JobBench, monkeypatch: pytest.MonkeyPatch
) -> None:
    """An old digest of new bytes would be a lie in the book."""
    path = bench.write("raw/a.txt", b"old")

    def interrupt(_: Path) -> None:
        raise KeyboardInterrupt

    with monkeypatch.context() as patch:
        patch.setattr(register, "read_facts", interrupt)
        with pytest.raises(KeyboardInterrupt):
            enter(bench, "raw")
    before = path.stat().st_mtime_ns
    path.write_bytes(b"new")
    os.utime(path, ns=(before + 1, before + 1))
    result = enter(bench, "raw")
    assert result.resumed == 0
    assert result.files[0].record.sha256 == read_fixity(path).sha256


def test_progress_counts_the_bytes_that_are_left(bench: JobBench) -> None:
    """The announced total is what is then read."""
    bench.write("raw/a.txt", b"x" * 1000)
    bench.write("raw/b.txt", b"y" * 500)
    counts = Counts()
    register_paths(bench.job, [bench.job / "raw"], RegisterOptions(), counts)
    assert (counts.total, counts.done) == (1500, 1500)
    assert counts.labels == ["hashing"]


def test_a_job_folder_that_takes_no_list_stops_nobody(bench: JobBench) -> None:
    """While it hashes, and once at the end, it says that an interruption would cost the work."""
    bench.write("raw/a.txt", b"a")
    scratch = bench.job / ".swathbook"
    if scratch.is_dir():
        shutil.rmtree(scratch)
    scratch.write_bytes(b"in the way")
    counts = Counts()
    result = register_paths(bench.job, [bench.job / "raw"], RegisterOptions(), counts)
    assert len(result.files) == 1
    assert counts.labels == ["hashing, not to be interrupted"]
    (remark,) = result.remarks
    assert ".swathbook" in remark
    assert "could not have gone on" in remark
    assert bench.read_journal()[-1].seq == result.entry


@pytest.mark.parametrize("stop_at", range(3))
@pytest.mark.parametrize(
    ("flight", "kinds"),
    [("F1", ["specification", "flight", "files"]), ("", ["specification", "files", "sighting"])],
)
def test_all_of_a_call_is_entered_or_nothing(
    bench: JobBench, monkeypatch: pytest.MonkeyPatch, flight: str, kinds: list[str], stop_at: int
) -> None:
    """`job.toml`, a new flight, new files and known ones are one unit, wherever it breaks off."""
    bench.write("raw/a.txt", b"a")
    enter(bench, "raw")
    before = bench.read_journal()
    bench.write("job.toml", b"# changed\n")
    bench.write("raw/b.txt", b"b")
    bench.write("raw/c.txt", b"a")
    added: list[object] = []
    add = BookWriter._add

    def break_off(self: BookWriter, *parts):
        if len(added) == stop_at:
            raise KeyboardInterrupt
        added.append(parts)
        return add(self, *parts)

    with monkeypatch.context() as patch:
        patch.setattr(BookWriter, "_add", break_off)
        with pytest.raises(KeyboardInterrupt):
            enter(bench, "raw/b.txt", "raw/c.txt", flight=flight)
    assert bench.read_journal() == before
    result = enter(bench, "raw/b.txt", "raw/c.txt", flight=flight)
    assert result.resumed == 2
    entered = bench.read_journal()[len(before) :]
    assert [entry.kind for entry in entered] == kinds
    assert result.entry == entered[-1].seq


class TwoDrives:
    """Tells files of a card from others, by the name of a folder."""

    def identify(self, path: Path) -> Volume:
        """Return the volume of a file."""
        drive = "card" if "card" in path.parts else "stick"
        return Volume(f"uuid:{drive}", f"/media/{drive}")


def test_files_on_two_drives_are_two_entries_made_at_once(
    bench: JobBench, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A list of files lies on one drive, which it names; files of the job lie where that does."""
    for name, written in (("card/a.txt", b"a"), ("stick/b.txt", b"bb"), ("job/raw/c.txt", b"c")):
        path = tmp_path / name
        path.parent.mkdir(exist_ok=True)
        path.write_bytes(written)
    monkeypatch.setattr(drafts, "VolumeFinder", TwoDrives)
    monkeypatch.setattr(drafts, "find_id", lambda root: f"uuid:{root.name}")
    paths = [tmp_path / "card", tmp_path / "stick", bench.job / "raw"]
    before = bench.read_journal()
    for _ in range(2):
        result = register_paths(bench.job, paths, RegisterOptions(flight="F1"), NO_PROGRESS)
        assert len(result.files) == 3
    entries = bench.read_journal()[len(before) :]
    assert [(e.kind, e.values.get("volume"), e.values.get("root")) for e in entries] == [
        ("flight", None, None),
        ("files", "uuid:card", "/media/card"),
        ("files", "", None),
        ("files", "uuid:stick", "/media/stick"),
        ("sighting", "uuid:card", "/media/card"),
        ("sighting", None, None),
        ("sighting", "uuid:stick", "/media/stick"),
    ]
    lists = entries[1:4]
    assert [(e.values["count"], e.values["bytes"]) for e in lists] == [(1, 1), (1, 1), (1, 2)]
    assert {entry.values["flight"] for entry in entries[1:4]} == {"F1"}


def test_a_file_that_changes_after_it_was_hashed_is_refused(
    bench: JobBench, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Facts must be those of the bytes that were hashed; the unchanged file is not hashed again."""
    bench.write("raw/a.txt", b"a")
    still_open = bench.write("raw/b.txt", b"b")
    read_facts = content.read_facts

    def write_on(path: Path):
        if path == still_open:
            still_open.write_bytes(b"b and more")
        return read_facts(path)

    monkeypatch.setattr(register, "read_facts", write_on)
    with pytest.raises(
        FaultsError, match=r"b\.txt: changed after it was read; nothing was entered"
    ):
        enter(bench, "raw")
    assert len(bench.read_journal()) == 2
    monkeypatch.setattr(register, "read_facts", read_facts)
    assert enter(bench, "raw").resumed == 1
