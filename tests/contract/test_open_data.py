"""A whole audit over open files of many makers, sound and broken, with our own checks."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest
from open_data import PointFacts

from ledger.audit.running import audit_folder
from ledger.model.ask import NoProgress
from ledger.model.audit import AuditOptions
from ledger.model.finding import Grade, Outcome
from ledger.model.verdict import Verdict
from ledger.store.reading import Book
from ledger.store.writing import create_book

# Open files that cannot be read to their last point.
BROKEN = {
    "1.2-with-color-clipped.las",
    "broken_coder.laz",
    "broken_size.laz",
    "broken_type.laz",
}


@pytest.fixture
def job(tmp_path: Path, point_facts: PointFacts, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Return a job whose folder `out` holds all open point files."""
    monkeypatch.setenv("SWATHBOOK_HOME", str(tmp_path / "home"))
    folder = tmp_path / "job"
    folder.mkdir()
    create_book(folder).close()
    (folder / "job.toml").write_text("", encoding="utf-8")
    (folder / "out").mkdir()
    for path in point_facts:
        shutil.copy(path, folder / "out")
    return folder


def test_open_files_are_audited_without_a_crash(job: Path, point_facts: PointFacts) -> None:
    """No check breaks, every broken file is a major finding, and points are counted as elsewhere.

    The counts are those in `facts.json` of the open files, counted with laspy 2.7.0.
    """
    result = audit_folder(job, job / "out", AuditOptions(), NoProgress())
    assert result.verdict is Verdict.DO_NOT_SEND
    assert [f.sentence for f in result.findings if f.outcome is Outcome.ERRORED] == []
    unreadable = {
        finding.subject
        for finding in result.findings
        if finding.check == "file-readable" and finding.grade is Grade.MAJOR
    }
    assert unreadable >= BROKEN
    with Book.open(job) as book:
        entry = book.entry(result.entry)
        manifest = json.loads(book.blob(entry.values["manifest"]))
        fingerprints = json.loads(book.blob(entry.values["fingerprints"]))
    counted = {
        row["path"]: fingerprints[row["sha256"]]["count"]
        for row in manifest
        if row["sha256"] in fingerprints
    }
    expected = {
        path.name: known["points_counted"]
        for path, known in point_facts.items()
        if path.name in counted and known["points_counted"] is not None
    }
    assert len(expected) > 20
    assert {path: counted[path] for path in expected} == expected
