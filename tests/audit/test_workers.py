"""An audit with several workers enters what one process enters."""

from __future__ import annotations

import shutil
import sys
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pytest
from made_workers import Shuffled

from ledger.audit import hands
from ledger.audit.hands import Hands, choose_workers
from ledger.audit.running import audit_folder
from ledger.cli.frame import main
from ledger.contract import pieces
from ledger.crews.processes import ProcessCrew
from ledger.errors import UsageError
from ledger.model.ask import NoProgress
from ledger.model.audit import AUDIT_ITSELF, AuditOptions, AuditResult
from ledger.model.finding import Outcome
from ledger.model.verdict import Verdict
from ledger.store.reading import Book
from ledger.store.writing import create_book
from ledger.testing import Scene, SurveyBuilder, find_difference

REAL = Path(__file__).parents[1] / "real"
SPECIFICATION = """
[criteria.point-density]
min_pts_per_m2 = 2

[criteria.seams]
step_max_m = 0.05
"""


@pytest.fixture
def job(tmp_path: Path) -> Path:
    """Return a job with tiles, sound, faulty and cut, and some real files."""
    folder = tmp_path / "job"
    folder.mkdir()
    create_book(folder).close()
    (folder / "job.toml").write_text(SPECIFICATION, encoding="utf-8")
    survey = SurveyBuilder(folder / "out", scene=Scene(columns=2, rows=2, density=3.0))
    survey.shift_swath(2, 0.3).cut_share(3, 0.5)
    for name in ("1.2-with-color.las", "broken_size.laz", "epsg_4326.las", "plane.laz"):
        shutil.copy(REAL / name, folder / "out")
    return folder


def audit(job: Path, **options: Any) -> tuple[AuditResult, Mapping[str, Any]]:
    """Return the result and the values of its entry."""
    result = audit_folder(job, job / "out", AuditOptions(**options), NoProgress())
    with Book.open(job) as book:
        return result, book.entry(result.entry).values


def leave_out_times(result: AuditResult) -> dict[str, Any]:
    """Return what is the same in every audit of the same folder."""
    return {name: part for name, part in vars(result).items() if name not in {"entry", "seconds"}}


def test_the_whole_entry_is_the_same_but_times(job, monkeypatch) -> None:
    """Two processes: entry and result are those of one, findings, maps and figures among them."""
    monkeypatch.setattr(pieces, "LEAST_POINTS", 2_000)
    alone, entered = audit(job, workers=1)
    shared, entered_shared = audit(job, workers=2)
    assert dict(entered_shared) == dict(entered)
    assert find_difference(leave_out_times(alone), leave_out_times(shared)) == ""
    assert alone.points is not None
    assert alone.verdict is Verdict.DO_NOT_SEND


def test_a_lost_file_is_errored_and_the_audit_incomplete(bench, monkeypatch) -> None:
    """The file is named with what happened and what to do; nothing passes on it."""
    bench.install(bench.count())
    monkeypatch.setattr(Hands, "choose", lambda *_: lambda kit: Shuffled(kit, seed=5, losses=100))
    result = bench.audit()
    lost = [f for f in result.findings if f.outcome is Outcome.ERRORED]
    assert [f.check for f in lost] == [AUDIT_ITSELF, AUDIT_ITSELF]
    assert lost[0].subject == lost[0].where.file == "tile_0_0.las"
    assert "twice" in lost[0].sentence
    assert "swathbook audit out --workers 1" in lost[0].remedy
    assert result.verdict is Verdict.INCOMPLETE
    assert result.conforming == {}
    assert result.points == 0


def test_small_jobs_stay_in_one_process(monkeypatch) -> None:
    """Under ten million points, or with one core, nobody else is started; each has its share."""
    monkeypatch.setattr(hands, "_count_cores", lambda: 8)
    monkeypatch.setattr(hands, "_count_fitting", lambda: 100)
    points = (0, 9_999_999, 10_000_000, 14_000_000, 10**9)
    assert [choose_workers(each) for each in points] == [1, 1, 4, 5, 8]
    assert Hands().choose(9_999_999) is None
    assert Hands(1).choose(10**9) is None
    assert Hands(2).choose(10) is not None
    monkeypatch.setattr(hands, "_count_fitting", lambda: 0)
    assert choose_workers(10**9) == 1
    monkeypatch.setattr(hands, "_count_cores", lambda: 1)
    assert choose_workers(10**9) == 1


def test_more_processes_than_the_machine_holds_are_refused_before_one_is_started(
    bench, monkeypatch
) -> None:
    """Each would take memory of its own until nothing on the machine works any more."""
    monkeypatch.setattr(ProcessCrew, "__init__", lambda *_: pytest.fail("processes are prepared"))
    monkeypatch.setattr(hands, "_count_cores", lambda: 2)
    with pytest.raises(UsageError, match=r"--workers: .*found 1000000, expected \d+ at most"):
        bench.audit(workers=1_000_000)
    monkeypatch.setattr(hands, "_WORKER_BYTES", 1 << 60)  # no memory for one: cores still count
    with pytest.raises(UsageError, match="found 3, expected 2 at most"):
        bench.audit(workers=3)
    with bench.read() as book:
        assert [entry.kind for entry in book.entries("audit")] == []


def test_without_its_library_a_cluster_is_refused_in_one_line(bench, monkeypatch) -> None:
    """The line names the extra; nothing is entered."""
    for name in ("ledger.crews.cluster", "ledger.crews.clusterwork"):
        monkeypatch.delitem(sys.modules, name, raising=False)
    monkeypatch.setitem(sys.modules, "distributed", None)
    with pytest.raises(UsageError) as refused:
        bench.audit(cluster="tcp://127.0.0.1:1")
    assert str(refused.value) == (
        "the library that speaks with clusters is not here (distributed); "
        'pip install "swathbook[scale]", or leave out --cluster'
    )
    with bench.read() as book:
        assert [entry.kind for entry in book.entries("audit")] == []


@pytest.mark.parametrize("other", [["--workers", "2"], ["--quick"]])
def test_a_cluster_is_one_way_of_several(job, other, capsys) -> None:
    """Together with another way of reading, or with none, it is wrong usage."""
    words = ["--job", str(job), "audit", str(job / "out"), "--cluster", "tcp://127.0.0.1:1"]
    assert main([*words, *other]) == 2
    assert f"--cluster and {other[0]} cannot be given together" in capsys.readouterr().err


@pytest.mark.parametrize("address", ["", "  "])
def test_a_cluster_without_a_name_is_not_left_out_in_silence(job, address, capsys) -> None:
    """Else an unset variable of the shell would have this computer read everything alone."""
    assert main(["--job", str(job), "audit", str(job / "out"), "--cluster", address]) == 2
    assert "--cluster names no scheduler" in capsys.readouterr().err
