"""Raw files are entered by their bytes, once, with what they say, and nothing beside them."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from job_bench import JobBench

from ledger import content, register
from ledger.errors import ChangedFileError, FaultsError, UnreadableFileError, UsageError
from ledger.fixity import read_fixity, read_many
from ledger.model.artefact import Role
from ledger.model.ask import NoProgress
from ledger.register import RegisterOptions, RegisterResult, register_paths

NO_PROGRESS = NoProgress()


class Counts(NoProgress):
    """Progress that remembers what it was told."""

    def __init__(self) -> None:
        """Start at nothing."""
        self.total = self.done = 0

    def start(self, label: str, total: int, unit: str) -> None:
        """Take the total."""
        assert (label, unit) == ("hashing", "bytes")
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
    with pytest.raises(UnreadableFileError, match="no such file"):
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


def test_every_file_that_cannot_be_read_is_told(bench: JobBench) -> None:
    """All faults come at once, nothing is entered, and the good ones are not hashed again."""
    bench.write("raw/good.txt", b"good")
    (bench.job / "raw" / "broken").symlink_to("nothing")
    (bench.job / "raw" / "loop").symlink_to("loop")
    with pytest.raises(FaultsError) as caught:
        enter(bench, "raw")
    places = [Path(fault.where).name for fault in caught.value.faults]
    assert places == ["broken", "loop"]
    assert len(bench.read_journal()) == 2
    (bench.job / "raw" / "broken").unlink()
    (bench.job / "raw" / "loop").unlink()
    assert enter(bench, "raw").resumed == 1


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

    monkeypatch.setattr(register, "read_many", stop_after(4))
    with pytest.raises(KeyboardInterrupt):
        enter(bench, "raw")
    assert len(bench.read_journal()) == 2
    monkeypatch.setattr(register, "read_many", stop_after(-1))
    result = enter(bench, "raw")
    assert (result.resumed, len(result.files)) == (4, 6)
    assert read == [f"{number}.txt" for number in range(6)]
    assert enter(bench, "raw").resumed == 0


def test_a_file_that_changed_after_the_interruption_is_hashed_again(
    bench: JobBench, monkeypatch: pytest.MonkeyPatch
) -> None:
    """An old digest of new bytes would be a lie in the book."""
    path = bench.write("raw/a.txt", b"old")
    (bench.job / "raw" / "broken").symlink_to("nothing")
    with pytest.raises(FaultsError):
        enter(bench, "raw")
    (bench.job / "raw" / "broken").unlink()
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
    with pytest.raises(ChangedFileError, match=r"b\.txt: the file changed while it was registered"):
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
