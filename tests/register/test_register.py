"""Raw files are entered by their bytes, once, with what they say, and nothing beside them."""

from __future__ import annotations

from pathlib import Path

import pytest
from job_bench import JobBench
from registered import NO_PROGRESS, Counts, enter

from ledger.errors import UnreadableFileError, UsageError
from ledger.fixity import read_fixity
from ledger.model.artefact import Role
from ledger.register import (
    RegisterOptions,
    register_paths,
)
from ledger.report.register import sum_up


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
