"""Evidence beside a run is kept by its digest, and never read."""

from __future__ import annotations

import hashlib
import json

import pytest
from click.testing import CliRunner
from settings_job import ROWS, record_settings, start_with_settings, write_settings

from ledger.cli.frame import swathbook
from ledger.errors import FaultsError, UsageError
from ledger.store.reading import Book


@pytest.fixture
def job(tmp_path):
    """Return a job with one output and a settings file."""
    return start_with_settings(tmp_path / "job")


def test_evidence_is_kept_by_its_digest_and_never_read(job):
    """A photo of the settings dialog is an input beside, whatever it holds."""
    photo = write_settings(job, {"heightsOut": "site"}, "shot.json")
    words = ["--job", str(job), "record", str(job / "out" / "R1"), "--json"]
    with pytest.raises(UsageError, match="--map speaks of a settings file"):
        record_settings(job, settings=(), evidence=(photo,), rows=ROWS)
    shown = CliRunner().invoke(swathbook, [*words, "--evidence", str(photo)])
    assert shown.exit_code == 0, shown.output
    assert json.loads(shown.output)["beside"] == ["config/shot.json"]
    with Book.open(job) as book:
        run = book.process("R1")
        assert run is not None
        (used,) = run.inputs
        assert (used.path, used.role, used.assumed) == ("config/shot.json", "photo", False)
        assert used.sha256 == hashlib.sha256(photo.read_bytes()).hexdigest()
        (use,) = book.uses(used.sha256)
        assert use.file.bytes == photo.stat().st_size
        assert not [known for known in run.values.values() if "shot" in known.where]
    photo.write_text("other", encoding="utf-8")
    shown = CliRunner().invoke(swathbook, ["--job", str(job), "recheck"])
    assert shown.exit_code == 1
    assert "config/shot.json" in shown.output


def test_evidence_that_is_not_there_enters_nothing(job):
    """One line, before anything is asked."""
    with pytest.raises(FaultsError, match=r"absent\.png"):
        record_settings(job, evidence=(job / "absent.png",))
