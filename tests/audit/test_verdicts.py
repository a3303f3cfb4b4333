"""The verdict of an audit: no gap passes, and the worst grade decides."""

from __future__ import annotations

import hashlib
import json
import os
import sqlite3
from collections.abc import Iterable
from pathlib import Path
from typing import Any

import pytest
from audit_findings import fails

from ledger.audit import running
from ledger.contract.passing import PointPass
from ledger.errors import BrokenBookError, SpecificationError, UsageError
from ledger.model.audit import AUDIT_ITSELF, WHOLE_DELIVERY, InterimResult, PluginFault
from ledger.model.finding import Finding, Grade, Outcome
from ledger.model.verdict import Verdict
from ledger.store.reading import BOOK_NAME
from ledger.store.writing import create_book

# The verdict.


@pytest.mark.parametrize(
    ("grade", "verdict"),
    [
        (Grade.MAJOR, Verdict.DO_NOT_SEND),
        (Grade.MINOR, Verdict.ACCEPTANCE_NEEDED),
        (Grade.OBSERVATION, Verdict.FIT_TO_SEND),
    ],
)
def test_the_worst_grade_decides(bench, grade: Grade, verdict: Verdict) -> None:
    """Majors stop, minors ask, observations pass."""
    bench.install(bench.say(fails(grade)))
    assert bench.audit().verdict is verdict


@pytest.mark.parametrize("required", [True, False])
def test_a_gap_counts_where_the_check_is_required(bench, required: bool) -> None:
    """A required check that is not assessed leaves the audit incomplete; another does not."""

    def lacks(check: Any, _: Any) -> Iterable[Finding]:
        yield check.not_assessed(WHOLE_DELIVERY, "Cannot say.", ("records",))

    bench.install(bench.say(lacks, always_required=required))
    assert bench.audit().verdict is (Verdict.INCOMPLETE if required else Verdict.FIT_TO_SEND)


@pytest.mark.parametrize(
    ("is_there", "system", "told"),
    [
        (False, "EPSG:6346", "site.geojson was not found"),
        (True, "", "outline of the site"),  # nothing says into which system it is to be brought
        (True, "EPSG:6346", ""),
    ],
)
def test_an_outline_that_is_named_and_not_usable_leaves_the_audit_open(
    bench, is_there: bool, system: str, told: str
) -> None:
    """A slip in delivery.boundary does not let a site go out that nothing was held against."""
    stated = f'[coordinates]\nhorizontal = "{system}"\n' if system else ""
    bench.write(f'{stated}[delivery]\nboundary = "site.geojson"\n')
    if is_there:
        ring = [[-81.0, 38.0], [-80.9, 38.0], [-81.0, 38.1], [-81.0, 38.0]]
        outline = json.dumps({"type": "Polygon", "coordinates": [ring]})
        (bench.job / "site.geojson").write_text(outline, encoding="utf-8")
    result = bench.audit()
    assert result.verdict is (Verdict.INCOMPLETE if told else Verdict.FIT_TO_SEND)
    assert [(gap.check, told in gap.sentence) for gap in result.open_findings] == (
        [(AUDIT_ITSELF, True)] if told else []
    )


@pytest.mark.parametrize("is_there", [False, True])
def test_a_geoid_grid_that_is_named_and_not_there_leaves_the_audit_open(
    bench, is_there: bool
) -> None:
    """Nobody can say that the right geoid was applied against a grid that nobody has."""
    bench.write('[coordinates]\ngeoid = { name = "g", file = "g.tif" }\n')
    if is_there:
        (bench.job / "g.tif").write_bytes(b"grid")
    result = bench.audit()
    assert result.verdict is (Verdict.FIT_TO_SEND if is_there else Verdict.INCOMPLETE)
    assert [(gap.check, "g.tif was not found" in gap.sentence) for gap in result.open_findings] == (
        [] if is_there else [(AUDIT_ITSELF, True)]
    )


def test_a_quick_audit_is_at_best_incomplete(bench) -> None:
    """Without points there is no verdict better than *incomplete*, and no count of points."""
    result = bench.audit(quick=True)
    assert result.verdict is Verdict.INCOMPLETE
    assert result.points is None


def test_the_verdict_so_far_comes_before_the_first_point(bench, monkeypatch) -> None:
    """Records and headers are judged and told before any point is read."""
    told: list[InterimResult] = []
    original = PointPass.read

    def read(*parts: Any) -> Any:
        assert told
        return original(*parts)

    monkeypatch.setattr(PointPass, "read", read)
    bench.install(bench.say(fails(Grade.MAJOR)), bench.count())
    bench.audit(on_interim=told.append)
    (interim,) = told
    assert interim.verdict is Verdict.DO_NOT_SEND
    assert [finding.check for finding in interim.findings] == ["says"]
    bench.install(bench.say(), bench.count())
    bench.audit(on_interim=told.append)
    assert told[1].verdict is Verdict.INCOMPLETE
    bench.audit(on_interim=told.append, quick=True)
    assert len(told) == 2


# What cannot be read, or was not there.


def test_a_damaged_file_leaves_a_required_check_open(bench) -> None:
    """A file cut short is counted, is no pass for a check of points, and stops no other file."""
    bench.install(bench.count(always_required=True))
    bench.survey.cut_share(1, 0.5)
    result = bench.audit()
    assert result.verdict is Verdict.INCOMPLETE
    assert result.conforming == {"counts": 1}
    with bench.read() as book:
        fingerprints = json.loads(book.blob(book.entry(result.entry).values["fingerprints"]))
    whole = hashlib.sha256(bench.survey.paths[0].read_bytes()).hexdigest()
    assert set(fingerprints) == {whole}


@pytest.mark.skipif(os.name == "nt", reason="links need rights on Windows")
def test_a_file_that_was_not_read_leaves_the_audit_open(bench, tmp_path: Path) -> None:
    """Whatever the checks say, a file that could not be read makes the verdict incomplete."""
    (tmp_path / "far.las").write_bytes(b"LASF")
    (bench.out / "far.las").symlink_to(tmp_path / "far.las")
    result = bench.audit()
    assert result.verdict is Verdict.INCOMPLETE
    (gap,) = result.open_findings
    assert (gap.check, gap.subject, gap.outcome) == (
        AUDIT_ITSELF,
        "far.las",
        Outcome.NOT_ASSESSED,
    )


def test_a_file_that_changes_meanwhile_leaves_the_audit_open(bench) -> None:
    """A file that is written to after it was hashed is not what the entry says."""
    note = bench.out / "notes.txt"
    note.write_text("one", encoding="utf-8")

    def meddle(check: Any, _: Any) -> Iterable[Finding]:
        note.write_text("another", encoding="utf-8")
        yield check.conforms(WHOLE_DELIVERY, "It holds.")

    bench.install(bench.say(meddle))
    result = bench.audit()
    assert result.verdict is Verdict.INCOMPLETE
    assert [finding.subject for finding in result.open_findings] == ["notes.txt"]


def test_a_broken_plugin_leaves_the_audit_open(bench) -> None:
    """What a plugin would have checked is not known, so nothing passes without it."""
    bench.install(bench.say(), faults=[PluginFault("broken", "1.1", "it does not load")])
    result = bench.audit()
    assert result.verdict is Verdict.INCOMPLETE
    (told,) = result.open_findings
    assert told.outcome is Outcome.ERRORED
    assert "broken 1.1" in told.sentence
    assert [fault.plugin for fault in result.plugin_faults] == ["broken"]


def test_a_check_of_a_broken_plugin_is_not_assessed(bench) -> None:
    """What job.toml asks of a plugin that did not load is *not assessed* by its own id."""
    bench.write("[criteria.frogs]\nmin = 1\n")
    bench.install(bench.say(), faults=[PluginFault("broken", "1.1", "it does not load")])
    found = next(f for f in bench.audit(quick=True).findings if f.check == "frogs")
    assert found.outcome is Outcome.NOT_ASSESSED


def test_no_check_at_all_is_no_pass(bench) -> None:
    """An audit without checks has tested nothing, and says so."""
    bench.install()
    assert bench.audit().verdict is Verdict.INCOMPLETE


def test_a_check_that_breaks_is_entered_as_errored(bench) -> None:
    """A check that raises is in the entry with type, message, plugin and version."""
    bench.install(bench.say(lambda *_: 1 / 0, always_required=True), bench.count())
    result = bench.audit()
    (told,) = result.open_findings
    assert told.outcome is Outcome.ERRORED
    assert "ZeroDivisionError: division by zero (stranger 4.2)" in told.sentence
    assert result.verdict is Verdict.INCOMPLETE
    assert result.conforming == {"counts": 2}


# Before anything is read.


@pytest.mark.parametrize(
    "text",
    [
        "[criteria.nothing]\n",
        "[coordinates]\nhorizontal = 'somewhere'\n",
        "[job]\ntitel = 'x'\n",
        "= 3",
    ],
)
def test_a_wrong_specification_is_told_before_a_byte_is_read(bench, monkeypatch, text: str) -> None:
    """Whatever is wrong in job.toml, no file of the folder is opened and nothing is entered."""

    def refuse(*_: Any) -> Any:
        raise AssertionError

    monkeypatch.setattr(running, "read_delivery", refuse)
    monkeypatch.setattr(running, "list_folder", refuse)
    bench.write(text)
    with pytest.raises(SpecificationError, match=r"job\.toml line \d"):
        bench.audit()
    with bench.read() as book:
        assert book.size == 0


def test_a_broken_book_is_refused_before_a_byte_is_read(bench, monkeypatch) -> None:
    """Nothing can be added to a broken book, so nothing is read for it."""
    bench.audit(quick=True)
    raw = sqlite3.connect(bench.job / BOOK_NAME)
    for name in [
        row[0] for row in raw.execute("SELECT name FROM sqlite_master WHERE type='trigger'")
    ]:
        raw.execute(f"DROP TRIGGER {name}")
    raw.execute("UPDATE journal SET root = zeroblob(32) WHERE seq = 2")
    raw.commit()
    raw.close()
    monkeypatch.setattr(running, "list_folder", None)
    with pytest.raises(BrokenBookError):
        bench.audit()


def test_without_a_specification_there_is_no_audit(bench) -> None:
    """An audit needs to know what the deliverable has to meet."""
    (bench.job / "job.toml").unlink()
    with pytest.raises(SpecificationError, match=r"job\.toml cannot be read"):
        bench.audit()


def test_the_job_itself_is_no_deliverable(bench) -> None:
    """The job folder, and any folder round it, is refused: the book would be in the manifest."""
    for folder in (bench.job, bench.job.parent):
        with pytest.raises(UsageError, match="job folder lies inside"):
            bench.audit(folder)


def test_the_job_of_another_is_no_deliverable(bench, tmp_path: Path) -> None:
    """A folder with some other job's book is refused too."""
    other = tmp_path / "other"
    other.mkdir()
    create_book(other).close()
    with pytest.raises(UsageError, match="holds a job's book"):
        bench.audit(other)


# A quick audit takes known digests.


def test_known_digests_are_taken_where_nothing_changed(bench) -> None:
    """Size, time and file id unchanged: the digest is taken, and how many are is said."""
    assert bench.audit().known_digests == 0
    result = bench.audit(quick=True)
    assert result.known_digests == 2
    assert result.manifest_sha256 == bench.audit().manifest_sha256
    assert bench.audit().known_digests == 0


@pytest.mark.parametrize("change", ["bytes", "time", "file"])
def test_a_changed_file_is_hashed_again(bench, change: str) -> None:
    """Another size, time or file id: the digest is computed, and it is the right one."""
    bench.audit()
    path = bench.survey.paths[0]
    if change == "bytes":
        path.write_bytes(path.read_bytes() + b"more")
    elif change == "time":
        os.utime(path, ns=(1, 1_700_000_000_000_000_000))
    else:
        status = path.stat()
        other = path.with_name("other")
        other.write_bytes(path.read_bytes()[::-1])
        os.utime(other, ns=(status.st_atime_ns, status.st_mtime_ns))
        other.replace(path)
    result = bench.audit(quick=True)
    assert result.known_digests == 1
    with bench.read() as book:
        manifest = json.loads(book.blob(book.entry(result.entry).values["manifest"]))
    stored = {row["path"]: row["sha256"] for row in manifest}
    assert stored[path.name] == hashlib.sha256(path.read_bytes()).hexdigest()
