"""Raw files are entered by their bytes, once, with what they say, and nothing beside them."""

from __future__ import annotations

import os
import shutil
from pathlib import Path

import pytest
from job_bench import JobBench

from ledger import content, fixity, register
from ledger.copies import Copies, find_copies
from ledger.errors import FaultsError, UnreadableFileError, UsageError
from ledger.fixity import read_fixity, read_many
from ledger.model.artefact import Role
from ledger.model.ask import NoProgress
from ledger.register import (
    RegisterOptions,
    RegisterResult,
    drafts,
    gathering,
    register_paths,
)
from ledger.report.register import sum_up
from ledger.store.reading import Book
from ledger.store.writing import BookWriter
from ledger.volumes import Volume

NO_PROGRESS = NoProgress()


class Counts(NoProgress):
    """Progress that remembers what it was told."""

    def __init__(self) -> None:
        """Start at nothing."""
        self.total = self.done = 0
        self.labels: list[str] = []

    def start(self, label: str, total: int, unit: str) -> None:
        """Take the total."""
        assert unit == "bytes"
        self.labels.append(label)
        self.total += total

    def advance(self, amount: int) -> None:
        """Add what was done."""
        self.done += amount

    def finish(self) -> None:
        """End."""


def enter(bench: JobBench, *names: str, **options) -> RegisterResult:
    """Register files of the job."""
    paths = [bench.job / name for name in names]
    return register_paths(bench.job, paths, RegisterOptions(**options), NO_PROGRESS)


def test_files_are_entered_with_digest_size_and_role(bench: JobBench) -> None:
    """The entry lists every file by path; count and bytes are those of the list."""
    bench.write("raw/b.txt", b"wind")
    bench.write("raw/a.bin", b"\x00\x01")
    result = enter(bench, "raw", by="pilot")
    *_, entry = bench.read_journal()
    assert (result.entry, result.bytes, result.flight) == (entry.seq, 6, "")
    assert (entry.kind, entry.by) == ("files", "pilot")
    assert (entry.values["count"], entry.values["bytes"]) == (2, 6)
    listed = bench.read_list(entry, "manifest")
    assert [(row["path"], row["role"], row["bytes"]) for row in listed] == [
        ("raw/a.bin", "capture", 2),
        ("raw/b.txt", "document", 4),
    ]
    assert listed[1]["sha256"] == read_fixity(bench.job / "raw" / "b.txt").sha256
    assert int(listed[1]["mtime_ns"]) == (bench.job / "raw" / "b.txt").stat().st_mtime_ns


def test_nothing_is_written_beside_raw_files(bench: JobBench) -> None:
    """The raw folder holds afterwards what it held before, times included."""
    path = bench.write("raw/a.txt", b"a")

    def look() -> list[tuple[str, int]]:
        return [(each.name, each.stat().st_mtime_ns) for each in (path.parent, path)]

    before = look()
    enter(bench, "raw")
    enter(bench, "raw", flight="F1")
    assert look() == before
    assert list(path.parent.iterdir()) == [path]


def test_a_role_that_is_given_counts(bench: JobBench) -> None:
    """Who says what the files are is believed; what they say of themselves is kept beside."""
    bench.write("raw/a.csv", b"id,easting,northing,height\nA,1.0,2.0,3.0\n")
    (file,) = enter(bench, "raw", role=Role.CONTROL).files
    assert (file.record.role, file.record.facts["rows"]) == ("control", 1)


def test_the_same_bytes_again_are_a_sighting(bench: JobBench) -> None:
    """A copy under another name is seen, not registered twice; of two new ones the first counts."""
    bench.write("raw/a.txt", b"same")
    bench.write("raw/b.txt", b"same")
    first = enter(bench, "raw")
    assert [file.new for file in first.files] == [True, False]
    bench.write("copy/c.txt", b"same")
    bench.write("copy/d.txt", b"other")
    again = enter(bench, "copy")
    assert [file.new for file in again.files] == [False, True]
    kinds = [(entry.kind, entry.values.get("count")) for entry in bench.read_journal()[2:]]
    assert kinds == [("files", 1), ("sighting", 1), ("files", 1), ("sighting", 1)]


def test_only_known_bytes_make_a_sighting_alone(bench: JobBench) -> None:
    """When nothing is new, no empty list of files is entered."""
    bench.write("raw/a.txt", b"same")
    enter(bench, "raw")
    result = enter(bench, "raw")
    assert [entry.kind for entry in bench.read_journal()[2:]] == ["files", "sighting"]
    assert result.entry == 4


def test_a_free_flight_id_opens_an_empty_flight(bench: JobBench) -> None:
    """The next id makes a flight to be filled later; a known one is used as it is."""
    bench.write("raw/a.txt", b"a")
    bench.write("raw/b.txt", b"b")
    enter(bench, "raw/a.txt", flight="F1")
    enter(bench, "raw/b.txt", flight="F1")
    entries = bench.read_journal()[2:]
    assert [entry.kind for entry in entries] == ["flight", "files", "files"]
    assert entries[0].values == {"id": "F1", "name": "", "values": {}}
    assert [entry.values["flight"] for entry in entries[1:]] == ["F1", "F1"]


@pytest.mark.parametrize("flight", ["F2", "f2", "F0", "F01", "R1", "F", "1"])
def test_a_flight_out_of_order_is_refused(bench: JobBench, flight: str) -> None:
    """A typing mistake must not open a flight."""
    bench.write("raw/a.txt", b"a")
    with pytest.raises(UsageError, match=r"no such flight.*expected F1 for a new one"):
        enter(bench, "raw", flight=flight)
    assert len(bench.read_journal()) == 2


@pytest.mark.parametrize("typed", ["f1", " F1 ", "flight:f1"])
def test_a_flight_is_found_in_any_case(bench: JobBench, typed: str) -> None:
    """A small letter opens no second flight and is no fault; the id is echoed in its one form."""
    bench.write("raw/a.txt", b"a")
    bench.write("raw/b.txt", b"b")
    enter(bench, "raw/a.txt", flight="F1")
    result = enter(bench, "raw/b.txt", flight=typed)
    assert result.flight == "F1"
    entries = bench.read_journal()[2:]
    assert [entry.kind for entry in entries] == ["flight", "files", "files"]
    assert entries[-1].values["flight"] == "F1"


def test_known_flights_are_named_when_one_is_refused(bench: JobBench) -> None:
    """The message lists what there is."""
    bench.write("raw/a.txt", b"a")
    enter(bench, "raw", flight="F1")
    with pytest.raises(UsageError, match="expected F1 or F2 for a new one"):
        enter(bench, "raw", flight="F3")


@pytest.mark.parametrize("folder", ["raw", "empty"])
def test_nothing_to_register_is_refused(bench: JobBench, folder: str) -> None:
    """An empty folder, also one of folders, is no success."""
    (bench.job / "empty" / "below").mkdir(parents=True)
    with pytest.raises(UsageError, match="there is no file to register"):
        enter(bench, folder)


def test_paths_may_come_from_anything_that_can_be_walked_once(bench: JobBench) -> None:
    """The message names the folders also where they came from a generator."""
    paths = (bench.job / name for name in ("raw",))
    with pytest.raises(UsageError, match="raw: there is no file"):
        register_paths(bench.job, paths, RegisterOptions(), NO_PROGRESS)


def test_a_path_that_is_not_there_is_refused(bench: JobBench) -> None:
    """One missing path stops all: the person believes that everything was entered."""
    bench.write("raw/a.txt", b"a")
    with pytest.raises(UnreadableFileError, match=r"no such file.*; nothing was entered"):
        enter(bench, "raw", "card")
    assert len(bench.read_journal()) == 2


def test_the_whole_job_folder_leaves_out_the_book(bench: JobBench) -> None:
    """Who names the job folder means its files; the book would never be as recorded again."""
    bench.write("raw/a.txt", b"a")
    listed = [file.record.path for file in enter(bench, ".").files]
    assert listed == ["job.toml", "raw/a.txt"]
    with pytest.raises(UsageError, match="no file to register"):
        enter(bench, "swathbook.sqlite")


def test_files_outside_the_job_keep_their_whole_path(bench: JobBench, tmp_path: Path) -> None:
    """A card is registered where it lies."""
    card = tmp_path / "card" / "a.txt"
    card.parent.mkdir()
    card.write_bytes(b"a")
    (file,) = register_paths(bench.job, [card], RegisterOptions(), NO_PROGRESS).files
    assert file.record.path == card.as_posix()


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


def test_a_job_toml_that_cannot_be_entered_is_told_before_anything_is_read(
    bench: JobBench,
) -> None:
    """Nobody waits an hour for a message that could have come at once."""
    bench.write("raw/a.txt", b"a")
    (bench.job / "job.toml").unlink()
    (bench.job / "job.toml").mkdir()
    counts = Counts()
    with pytest.raises(UnreadableFileError, match=r"job\.toml cannot be read"):
        register_paths(bench.job, [bench.job / "raw"], RegisterOptions(), counts)
    assert counts.labels == []


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


def test_names_that_do_not_travel_are_remarked_on(bench: JobBench) -> None:
    """Two names that are one on Windows, and one that is none there, are entered and told."""
    for name in ("A.las", "a.las", "con.txt"):
        bench.write(f"raw/{name}", name.encode())
    if len(list((bench.job / "raw").iterdir())) < 3:
        pytest.skip("this file system has one name for both")
    result = enter(bench, "raw")
    assert len(result.files) == 3
    alike, refused = result.remarks
    assert "raw/A.las and raw/a.las differ only in upper and lower case" in alike
    assert refused.startswith("raw/con.txt cannot be copied to Windows")


def test_a_damaged_file_is_entered_by_its_bytes(bench: JobBench) -> None:
    """What cannot be understood is registered all the same, with the reason."""
    bench.write("raw/a.laz", b"LASF cut here")
    (file,) = enter(bench, "raw").files
    assert file.record.fault
    assert file.new


def test_job_toml_is_entered_with_the_files(bench: JobBench) -> None:
    """A changed `job.toml` is entered before the files."""
    bench.write("raw/a.txt", b"a")
    bench.write("job.toml", b"# changed\n")
    enter(bench, "raw")
    assert [entry.kind for entry in bench.read_journal()[2:]] == ["specification", "files"]


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


def test_known_bytes_in_another_flight_or_role_are_a_use_of_their_own(bench: JobBench) -> None:
    """Role and flight belong to the use: naming them for known bytes is entered, not lost."""
    bench.write("raw/a.bin", b"\x00\x01")
    enter(bench, "raw")
    again = enter(bench, "raw", flight="F1")
    (file,) = again.files
    assert (file.new, file.new_use) == (False, True)
    *_, entry = bench.read_journal()
    assert (entry.kind, entry.values["flight"]) == ("files", "F1")
    enter(bench, "raw", role=Role.CALIBRATION)
    *_, entry = bench.read_journal()
    assert bench.read_list(entry, "manifest")[0]["role"] == "calibration"
    enter(bench, "raw", flight="F1")
    *_, entry = bench.read_journal()
    assert entry.kind == "sighting"


@pytest.mark.parametrize(
    ("facts", "told"),
    [
        ({"sample_type": "float32", "columns": 3, "rows": 2, "is_geoid": False}, "grid, 3 × 2"),
        (
            {"sample_type": "float32", "columns": 3, "rows": 2, "is_geoid": True,
             "vertical": "EPSG:5703"},
            "geoid, 3 × 2, gives heights of EPSG:5703",
        ),
    ],
)  # fmt: skip
def test_a_geoid_is_told_by_the_heights_that_it_gives(facts: dict[str, object], told: str) -> None:
    """A surface model is a grid and no geoid."""
    assert sum_up(facts) == told
