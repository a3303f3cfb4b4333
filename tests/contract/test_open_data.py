"""A whole audit over open files of many makers, sound and broken, with our own checks."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest

from ledger.audit import AuditOptions, audit_folder
from ledger.model.ask import NoProgress
from ledger.model.finding import Grade, Outcome
from ledger.model.verdict import Verdict
from ledger.store.reading import Book
from ledger.store.writing import create_book

# Files of the folder `las-malformed` of the open data that cannot be read to their last point.
BROKEN = {
    "1.2-with-color-clipped.las",
    "broken_coder.laz",
    "broken_size.laz",
    "broken_type.laz",
}


@pytest.fixture
def job(tmp_path: Path, shared_data: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Return a job whose folder `out` holds all open point files."""
    monkeypatch.setenv("SWATHBOOK_HOME", str(tmp_path / "home"))
    folder = tmp_path / "job"
    folder.mkdir()
    create_book(folder).close()
    (folder / "job.toml").write_text("", encoding="utf-8")
    for name in ("las", "las-malformed"):
        shutil.copytree(shared_data / name, folder / "out" / name)
    return folder


def test_open_files_are_audited_without_a_crash(job: Path, shared_data: Path) -> None:
    """No check breaks, every broken file is a major finding, and points are counted as elsewhere.

    The counts are those in `facts.json` of the open data, counted with laspy 2.7.0.
    """
    result = audit_folder(job, job / "out", AuditOptions(), NoProgress())
    assert result.verdict is Verdict.DO_NOT_SEND
    assert [f.sentence for f in result.findings if f.outcome is Outcome.ERRORED] == []
    unreadable = {
        finding.subject.removeprefix("las-malformed/")
        for finding in result.findings
        if finding.check == "file-readable" and finding.grade is Grade.MAJOR
    }
    assert unreadable >= BROKEN
    facts = json.loads((shared_data / "las" / "facts.json").read_text(encoding="utf-8"))
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
        path: known["points_counted"]
        for path, known in facts.items()
        if path in counted and known.get("points_counted") is not None
    }
    assert len(expected) > 20
    assert {path: counted[path] for path in expected} == expected
