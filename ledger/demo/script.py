"""The main job on the made-up site, step by step: what the person types and what happens between.

The steps only say what is typed and which exit status belongs to it; the command line runs them, so
that the demo is the program itself and not a recording. What each step has to show is held by the
tests.
"""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path

from ledger.auditentry import read_latest_audits
from ledger.dataclass import dataclass
from ledger.demo import forms, logs
from ledger.demo.clouds import ACCEPTED, REJECTED, write_export
from ledger.demo.geoids import write_geoids
from ledger.demo.site import list_tiles
from ledger.demo.tables import write_points, write_settings
from ledger.errors import UsageError
from ledger.model.ask import Progress
from ledger.model.finding import Grade
from ledger.office import INVENTED_MARK
from ledger.start import require_outside_jobs
from ledger.store.reading import Book

JOB_NAME = "QM-0412"
COPY_NAME = "QM-0412-copy"
STALE_TILE = "tile_14.laz"
CHANGED_TILE = "tile_09.laz"
FLOAT_LINE, FEW_POINTS = "GN-03", "CP-02"
_BY = ("--by", "site engineer", "--reason")
_FITS = (*_BY, "line 6 fits lines 5 and 7 where they overlap")
_ENOUGH = (*_BY, "the client agreed to 14 points on a site of this size")
REPORT = "deliver/report-draft.md"
_STATED = (
    *("--set", "about=deliver", "--set", "accuracy=vertical", "--set", "statistic=RMSE"),
    *("--set", "checkpoints=raw/control/checks.csv"),
)


@dataclass(frozen=True)
class Step:
    """One step of the walk.

    Args:
        note: what happens, in one sentence.
        words: the command as typed, after `swathbook`; empty where the person acts by hand.
        expected: the exit status that belongs to it.
        act: what happens before the command, if anything.
        find_words: finds what is typed, where that stands on the screen of the step before.
    """

    note: str
    words: tuple[str, ...] = ()
    expected: int = 0
    act: Callable[[], None] | None = None
    find_words: Callable[[], tuple[str, ...]] | None = None


def prepare_folder(folder: Path) -> None:
    """Make the demo's folder, emptying the one of an earlier demo.

    Raises:
        UsageError: the folder holds something that the demo did not make, or lies in a job.
    """
    require_outside_jobs(folder / JOB_NAME)
    if folder.exists() and not folder.is_dir():
        raise UsageError("the demo needs a folder", found=f"a file, {folder}")
    if folder.is_dir() and any(folder.iterdir()):
        if not (folder / INVENTED_MARK).is_file():
            raise UsageError(
                "the folder is not empty and no demo made it, so nothing in it is touched",
                where=str(folder),
                remedy="name another folder",
            )
        for name in (JOB_NAME, COPY_NAME):
            shutil.rmtree(folder / name, ignore_errors=True)
    folder.mkdir(parents=True, exist_ok=True)
    (folder / INVENTED_MARK).write_text(
        "Everything in this folder is invented. It may be deleted.\n", encoding="ascii"
    )


def list_steps(folder: Path, progress: Progress) -> tuple[Step, ...]:
    """Return the walk, in a folder that `prepare_folder` made.

    Every command is typed in the job folder, but the first, which makes it.
    """
    job = folder / JOB_NAME
    return (
        *_list_field_steps(job),
        *_list_runs(job, progress),
        *_list_deliveries(job, folder / COPY_NAME),
    )


def _list_field_steps(job: Path) -> tuple[Step, ...]:
    return (
        Step(
            "A new job for the borrow pit.",
            ("start", str(job), "--reference", forms.REFERENCE, "--title", forms.TITLE),
        ),
        Step(
            "The client's wishes go into job.toml; card, base and aircraft are read out into raw/.",
            act=lambda: _bring_field_data(job),
        ),
        Step(
            "The raw files are hashed and entered as flight F1.",
            ("register", "raw", "--flight", "F1"),
        ),
        Step(
            "The geoid grids belong to no flight: they are entered by themselves.",
            ("register", "geoid"),
        ),
        Step(
            "The surveyed points: what their columns are stands in the files; what they are not.",
            ("record", "points", "raw/control/checks.csv", "--set", "surveyed=2026-05-12"),
        ),
        Step(
            "The control points likewise. No run is fitted to them.",
            ("record", "points", "raw/control/control.csv"),
        ),
        Step(
            "The rig: scanner, bracket and aircraft, with the measured lever arm.",
            ("record", "rig", "--from", "forms/rig.toml"),
        ),
        Step(
            "The field card of the flight.",
            ("record", "flight", "F1", "--from", "forms/flight.toml"),
        ),
    )


def _list_runs(job: Path, progress: Progress) -> tuple[Step, ...]:
    return (
        Step(
            "First processing. The heights were left ellipsoidal; the run is rejected.",
            ("record", "out/R1", "--input", "F1", "--from", "forms/R1.toml"),
            act=lambda: write_export(job / "out" / "R1", REJECTED, progress),
        ),
        Step(
            "Second processing, with the geoid. The run is accepted.",
            ("record", "out/R2", "--input", "F1", "--from", "forms/R2.toml"),
            act=lambda: write_export(job / "out" / "R2", ACCEPTED, progress),
        ),
    )


def _list_deliveries(job: Path, copy: Path) -> tuple[Step, ...]:
    return (
        Step(
            f"The delivery is put together, and {STALE_TILE} comes from the wrong folder. What the "
            "draft of the report states is entered, as it stands there.",
            ("record", "statement", *_STATED, *_state("0.019", 15)),
            act=lambda: _put_delivery_together(job),
        ),
        Step("May it be sent?", ("audit", "deliver"), expected=1),
        Step("Where does that tile come from?", ("trace", f"deliver/{STALE_TILE}")),
        Step(
            "The right tile takes its place, and the report states what the files give.",
            ("record", "statement", "T1", *_state("0.023", 14)),
            act=lambda: _put_right(job),
        ),
        Step(
            "What is left is line 6, flown without a fix for 14 s, and 14 checkpoints where 30 are "
            "asked for.",
            ("audit", "deliver"),
            expected=1,
        ),
        Step(
            "Where line 6 overlaps its neighbours it fits them: the site engineer takes it.",
            find_words=lambda: ("accept", *_find_minors(job, FLOAT_LINE), *_FITS),
        ),
        Step(
            "So few checkpoints were agreed to for a site of this size.",
            find_words=lambda: ("accept", *_find_minors(job, FEW_POINTS), *_ENOUGH),
        ),
        Step("Weeks later: is everything as it was?", ("recheck",)),
        Step(
            f"In a copy of the job, one byte of {CHANGED_TILE} is flipped.",
            ("recheck", "--job", f"../{COPY_NAME}"),
            expected=1,
            act=lambda: _spoil_copy(job, copy),
        ),
    )


def _bring_field_data(job: Path) -> None:
    forms.write_specification(job / "job.toml")
    logs.write_capture(job / "raw")
    logs.write_base_log(job / "raw" / "base" / "QM1_0412.26o")
    logs.write_track(job / "raw" / "flight" / "track_0412.csv")
    logs.write_nmea(job / "raw" / "flight" / "nmea_0412.txt")
    logs.write_photos(job / "raw" / "photos")
    write_points(job / "raw" / "control")
    write_geoids(job / "geoid")
    write_settings(job / "config")
    forms.write_forms(job / "forms")


def _find_minors(job: Path, failure: str) -> tuple[str, ...]:
    """Return the ids, as people type them, of the minor findings of a failure in the last audit."""
    with Book.open(job) as book:
        audit = max(read_latest_audits(book), key=lambda each: each.entry.seq)
    return tuple(
        each.id[:4]
        for each in audit.findings
        if each.finding.grade is Grade.MINOR and failure in each.finding.catalogue
    )


def _state(value: str, count: int) -> tuple[str, ...]:
    """Return how a number of the report is entered."""
    return ("--set", f"value={value}", "--set", f"count={count}", "--set", f"report={REPORT}")


def _put_delivery_together(job: Path) -> None:
    deliver = job / "deliver"
    deliver.mkdir()
    for tile in list_tiles():
        name = f"{tile.name}.laz"
        run = "R1" if name == STALE_TILE else "R2"
        shutil.copyfile(job / "out" / run / name, deliver / name)
    shutil.copyfile(job / "out" / "R2" / "dtm.tif", deliver / "dtm.tif")
    shutil.copyfile(job / "raw" / "control" / "checks.csv", deliver / "checks.csv")
    (job / REPORT).write_text(forms.REPORT_DRAFT, encoding="ascii", newline="\n")


def _put_right(job: Path) -> None:
    (job / REPORT).write_text(forms.REPORT, encoding="ascii", newline="\n")
    shutil.copyfile(job / "out" / "R2" / STALE_TILE, job / "deliver" / STALE_TILE)


def _spoil_copy(job: Path, copy: Path) -> None:
    shutil.copytree(job, copy)
    tile = copy / "deliver" / CHANGED_TILE
    content = bytearray(tile.read_bytes())
    content[len(content) // 2] ^= 1
    tile.write_bytes(bytes(content))
