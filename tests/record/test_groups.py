"""Files that do not belong together are never attributed to one run without a person."""

from __future__ import annotations

import datetime as dt
import os
from collections.abc import Callable
from pathlib import Path

import pytest
from job_bench import JobBench
from scripted import Scripted

from ledger.errors import UsageError
from ledger.model.ask import NobodyToAsk, NoProgress
from ledger.record.result import RecordResult
from ledger.record.run import RunOptions, record_run
from ledger.store.reading import Book

MakeTile = Callable[..., Path]
NOBODY = NobodyToAsk()
YESTERDAY = dt.date(2026, 5, 13)


def record(job: Path, *paths: Path, ask: object = NOBODY, together: bool = False) -> RecordResult:
    """Record a run."""
    options = RunOptions(paths=paths, together=together)
    return record_run(job, options, ask, NoProgress())  # type: ignore[arg-type]


def names(result: RecordResult) -> list[str]:
    """Return the names of the outputs."""
    return [output.file.path.removeprefix("out/") for output in result.outputs]


# Found in the folder of outputs.


@pytest.mark.parametrize(
    "odd",
    [
        {"software": "demo-proc 4.2.0"},
        {"day": YESTERDAY},
        {"scale": 0.01},
        {"epsg": 6347},
        {"minutes": 90},
    ],
)
def test_any_difference_makes_two_groups(
    job: Path, make_tile: MakeTile, odd: dict[str, object]
) -> None:
    """Program, day, scale, coordinate system or a long pause: two groups are listed, exit 2."""
    make_tile("out/a.las")
    make_tile("out/b.las", **odd)
    with pytest.raises(UsageError, match="look like those of several runs") as caught:
        record(job)
    lines = str(caught.value).splitlines()
    assert len(lines) == 3
    told = "\n".join(lines[1:])
    assert "(a.las)" in told
    assert "(b.las)" in told
    with Book.open(job) as book:
        assert book.processes() == ()


def test_sub_folders_are_groups(job: Path, make_tile: MakeTile) -> None:
    """Files below two sub-folders are two groups, told by the name of the sub-folder."""
    make_tile("out/R1/tile.las")
    make_tile("out/R2/deep/tile.las", minutes=1)
    with pytest.raises(UsageError) as caught:
        record(job)
    assert "1 file in R1 (tile.las): demo-proc 4.1.0, made 2026-05-14" in str(caught.value)
    assert "1 file in R2 (tile.las)" in str(caught.value)


def test_what_to_type_for_one_group_and_for_all_is_told(job: Path, make_tile: MakeTile) -> None:
    """The error names the outputs of one run, and the way to say that one run made them all."""
    make_tile("out/R1/tile.las")
    make_tile("out/R 2/tile.las", minutes=1)
    with pytest.raises(UsageError) as caught:
        record(job)
    told = str(caught.value).splitlines()[0]
    assert "one run: swathbook record out/R1;" in told
    assert "made them all: swathbook record out/R1 'out/R 2' --together" in told
    assert len(record(job, job / "out/R1", job / "out/R 2", together=True).outputs) == 2


def test_groups_of_one_folder_are_named_by_the_person(job: Path, make_tile: MakeTile) -> None:
    """Where no folder tells the groups apart, none is offered."""
    make_tile("out/a.las")
    make_tile("out/b.las", scale=0.01)
    with pytest.raises(UsageError, match=r"swathbook record PATH…; where .* PATH… --together"):
        record(job)


def test_together_speaks_of_named_outputs(job: Path, make_tile: MakeTile) -> None:
    """Nothing that was found is taken in bulk by a word."""
    make_tile("out/a.las")
    with pytest.raises(UsageError, match="none is named"):
        record(job, together=True)


def test_groups_are_told_apart_by_dates(job: Path, make_tile: MakeTile) -> None:
    """Dates are written as such, and an export is a span of time."""
    make_tile("out/a.las")
    make_tile("out/b.las", minutes=59)
    make_tile("out/c.las", scale=0.01)
    make_tile("out/d.las", scale=0.1, day=dt.date(2026, 12, 31), minutes=12 * 60)
    with pytest.raises(UsageError) as caught:
        record(job)
    told = str(caught.value)
    assert "made 2026-05-14, scale 0.001, written 2026-05-14 12:00 to 12:59 UTC" in told
    assert "made 2026-05-14, scale 0.01, written 2026-05-14 12:00 UTC" in told
    assert "made 2026-12-31, scale 0.1, written 2026-05-15 00:00 UTC" in told


def test_long_export_without_a_pause_is_one_group(job: Path, make_tile: MakeTile) -> None:
    """Tiles that follow one another for hours are one run."""
    for number in range(6):
        make_tile(f"out/{number}.las", minutes=50 * number)
    assert len(record(job).outputs) == 6


def test_other_files_go_with_the_points_of_their_folder(
    job: Path, make_tile: MakeTile, put_file: MakeTile
) -> None:
    """A raster and a damaged point file join the one group that they were written with."""
    make_tile("out/tile.las")
    put_file("out/dtm.tif", minutes=30)
    put_file("out/bad.las", minutes=-30)
    assert names(record(job)) == ["bad.las", "dtm.tif", "tile.las"]


def test_other_files_between_two_groups_stand_alone(
    job: Path, make_tile: MakeTile, put_file: MakeTile
) -> None:
    """A raster that could belong to either of two groups is a group of its own."""
    make_tile("out/a.las")
    make_tile("out/b.las", software="other 1.0")
    put_file("out/dtm.tif")
    with pytest.raises(UsageError) as caught:
        record(job)
    assert len(str(caught.value).splitlines()) == 4


def test_other_files_alone_are_a_group(job: Path, put_file: MakeTile) -> None:
    """Without point files, what was written together is one run."""
    put_file("out/dtm.tif")
    put_file("out/hillshade.tif", minutes=5)
    assert names(record(job)) == ["dtm.tif", "hillshade.tif"]


def test_person_ticks_the_groups_of_the_run(job: Path, make_tile: MakeTile) -> None:
    """Ticked groups are the outputs, the others stay for another run and are listed."""
    make_tile("out/a.las")
    make_tile("out/b.las", minutes=90)
    make_tile("out/c.las", minutes=180)
    ask = Scripted(ticks=(0, 2))
    result = record(job, ask=ask)
    assert names(result) == ["a.las", "c.las"]
    assert result.left_out == ("out/b.las",)
    assert ask.texts("outputs") == ["Which of these did this run make"]
    with Book.open(job) as book:
        entry = book.entry(result.entry)
    assert entry is not None
    assert entry.values["left_out"] == ["out/b.las"]
    assert names(record(job)) == ["b.las"]


def test_single_group_is_confirmed(job: Path, make_tile: MakeTile) -> None:
    """At a terminal even one group is shown before it is taken; no records nothing."""
    make_tile("out/a.las")
    with pytest.raises(UsageError, match="nothing was chosen"):
        record(job, ask=Scripted(yes=(False,)))
    ask = Scripted()
    assert names(record(job, ask=ask)) == ["a.las"]
    assert "1 file (a.las): demo-proc 4.1.0" in ask.texts("outputs")[0]


def test_no_tick_records_nothing(job: Path, make_tile: MakeTile) -> None:
    """A person who ticks nothing has recorded nothing."""
    make_tile("out/a.las")
    make_tile("out/b.las", scale=0.01)
    ask = Scripted(ticks=(), yes=(True, False))
    with pytest.raises(UsageError, match="nothing was chosen"):
        record(job, ask=ask)
    assert len(ask.texts("outputs")) == 4  # who forgot to tick is asked again


def test_odd_names_and_times_are_told(job: Path, put_file: MakeTile, make_tile: MakeTile) -> None:
    """Control characters in a name are made visible, and times before 1970 are told."""
    put_file("out/a\x1b[31m.tif")
    os.utime(make_tile("out/old.las"), (-86400, -86400))
    with pytest.raises(UsageError) as caught:
        record(job)
    told = str(caught.value)
    assert "a\\x1b[31m.tif" in told
    assert "\x1b" not in told
    assert "written 1969-12-31 00:00" in told


# Named by a person.


@pytest.fixture
def named(job: Path, make_tile: MakeTile) -> Path:
    """Return a folder with three tiles of one run and a stale one of the day before."""
    for number in range(3):
        make_tile(f"out/{number}.las")
    make_tile("out/stale.las", day=YESTERDAY)
    return job / "out"


def test_outlier_stays_out_without_a_terminal(job: Path, named: Path) -> None:
    """A tile unlike most is left out and listed, though its folder was named."""
    result = record(job, named)
    assert names(result) == ["0.las", "1.las", "2.las"]
    assert result.left_out == ("out/stale.las",)


@pytest.mark.parametrize(
    ("said", "answer"),
    [((True,), True), ((False,), False), ((), False)],
    ids=["yes", "no", "Enter"],
)
def test_outlier_is_asked_about_alone(
    job: Path, named: Path, said: tuple[bool, ...], answer: bool
) -> None:
    """At a terminal the outlier is asked about, with what makes it differ; Enter leaves it out."""
    ask = Scripted(yes=said, ticks=())
    result = record(job, named, ask=ask)
    (text,) = ask.texts("outputs")
    assert text.startswith(
        "1 file (stale.las) unlike the others: made 2026-05-13 against 2026-05-14"
    )
    assert ("stale.las" in names(result)) is answer
    assert result.left_out == (() if answer else ("out/stale.las",))


def test_outliers_of_one_kind_are_one_question(job: Path, named: Path, make_tile: MakeTile) -> None:
    """Outliers that are alike are asked about together, others by themselves."""
    make_tile("out/3.las")
    make_tile("out/4.las")
    make_tile("out/stale2.las", day=YESTERDAY)
    make_tile("out/other.las", software="other 1.0", epsg=6347)
    ask = Scripted(yes=(True, False))
    record(job, named, ask=ask)
    first, second = sorted(ask.texts("outputs"))
    assert "(other.las) unlike the others: program other 1.0 against demo-proc 4.1.0" in first
    assert "coordinate system" in first
    assert "2 files (stale.las, stale2.las)" in second


def test_no_majority_is_refused_without_a_terminal(job: Path, make_tile: MakeTile) -> None:
    """Half and half: nobody can say which half is meant, so it is asked."""
    paths = [make_tile("out/a.las"), make_tile("out/b.las", day=YESTERDAY)]
    with pytest.raises(UsageError, match="look like those of several runs") as caught:
        record(job, *paths)
    assert "group 2: 1 file in out (b.las): demo-proc 4.1.0, made 2026-05-13" in str(caught.value)
    result = record(job, *paths, ask=Scripted(ticks=(1,)))
    assert len(result.outputs) == 1
    assert len(result.left_out) == 1


def test_person_may_say_that_all_belong_together(job: Path, named: Path) -> None:
    """Files around midnight, or of a mixed export, can be recorded in a script."""
    result = record(job, named, together=True)
    assert len(result.outputs) == 4
    assert result.left_out == ()


def test_pause_does_not_part_named_files(job: Path, make_tile: MakeTile) -> None:
    """Times of files change when they are copied; what was named is not parted by them."""
    paths = [make_tile("out/a.las"), make_tile("out/b.las", minutes=1000)]
    assert names(record(job, *paths)) == ["a.las", "b.las"]


def test_named_files_without_headers_are_taken(job: Path, put_file: MakeTile) -> None:
    """A raster and a damaged file that were named belong to the run."""
    paths = [put_file("out/dtm.tif"), put_file("out/bad.las")]
    assert names(record(job, *paths)) == ["bad.las", "dtm.tif"]


def test_thousand_outputs_are_one_run(job: Path, put_file: MakeTile, make_tile: MakeTile) -> None:
    """Many outputs are recorded in one entry."""
    content = make_tile("out/0000.las").read_bytes()
    for number in range(1, 1000):  # a byte of the system identifier makes each file its own
        identifier = f"{number:04}".encode()
        put_file(f"out/{number:04}.las", content[:26] + identifier + content[30:])
    result = record(job)
    assert len(result.outputs) == 1000
    assert len({output.file.sha256 for output in result.outputs}) == 1000
    assert all(output.points == 5 for output in result.outputs)


@pytest.mark.parametrize("words", [["out/R1/a_*.las"], ["out/R1/a_1.las", "out/R1/a_2.las"]])
def test_a_pattern_means_the_files_that_fit(
    bench: JobBench, make_tile_in: MakeTile, words: list[str]
) -> None:
    """A pattern that no shell has read (Windows, quotes) names the same files as a shell would."""
    for name in ("a_1", "a_2", "b_1"):
        make_tile_in(bench.job, f"out/R1/{name}.las")
    recorded = bench.ask("record", *words)
    assert [each["path"] for each in recorded["outputs"]] == ["out/R1/a_1.las", "out/R1/a_2.las"]


def test_a_pattern_that_nothing_fits_is_refused(bench: JobBench) -> None:
    """The words stand in the error as they were typed."""
    (line,) = bench.refuse("record", "out/*.las")
    assert "out/*.las" in line
