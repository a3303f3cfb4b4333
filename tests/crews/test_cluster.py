"""A Dask cluster of two workers on loopback: the digits of one process, and nobody who differs.

Skipped where the extra `scale` is not installed; the extra `test` brings it.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from functools import partial
from pathlib import Path
from typing import Any

import pytest

distributed = pytest.importorskip("distributed", reason="the extra `scale` is not installed")

from made_store import Store, open_store, use_store  # noqa: E402 - after the reason to skip
from made_workers import BABBLE, Counts, Troubled, babble, enable  # noqa: E402

from ledger.audit.delivery import read_delivery  # noqa: E402
from ledger.audit.folder import list_folder  # noqa: E402
from ledger.audit.running import audit_folder  # noqa: E402
from ledger.contract import pieces  # noqa: E402
from ledger.contract.evidence import Evidence  # noqa: E402
from ledger.contract.guard import Guard  # noqa: E402
from ledger.contract.runner import Runner  # noqa: E402
from ledger.crews import cluster as cluster_module  # noqa: E402
from ledger.crews.cluster import Cluster, ClusterCrew  # noqa: E402
from ledger.crews.examining import compare_installations, describe_installation  # noqa: E402
from ledger.errors import UsageError  # noqa: E402
from ledger.lattice import LENGTH_LATTICE  # noqa: E402
from ledger.model.address import Address  # noqa: E402
from ledger.model.ask import NoProgress  # noqa: E402
from ledger.model.audit import AuditOptions  # noqa: E402
from ledger.model.finding import Finding, Outcome  # noqa: E402
from ledger.model.specification import Specification  # noqa: E402
from ledger.remote.files import list_store  # noqa: E402
from ledger.store.reading import Book  # noqa: E402
from ledger.store.writing import create_book  # noqa: E402
from ledger.testing import Layout, Scene, SurveyBuilder, find_difference  # noqa: E402

pytestmark = pytest.mark.filterwarnings("ignore::ResourceWarning", "ignore::DeprecationWarning")


@pytest.fixture(scope="module")
def store() -> Iterator[Store]:
    """Return a store that this process, and whatever it starts, reads from."""
    with open_store() as opened, pytest.MonkeyPatch.context() as patch:
        use_store(patch, opened.address)
        yield opened


# A port of the system's choice: at the usual one another cluster may serve its pages.
LOOPBACK = {"host": "127.0.0.1", "dashboard_address": ":0", "threads_per_worker": 1}


@pytest.fixture(scope="module")
def address(store: Store) -> Iterator[str]:
    """Return the address of a scheduler with two workers, which inherit what opens the store."""
    with distributed.LocalCluster(n_workers=2, **LOOPBACK) as local:
        yield str(local.scheduler_address)


@pytest.fixture(scope="module")
def job(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a job with four tiles, one of them cut."""
    folder = tmp_path_factory.mktemp("cluster") / "job"
    folder.mkdir()
    create_book(folder).close()
    (folder / "job.toml").write_text("", encoding="utf-8")
    survey = SurveyBuilder(folder / "out", Layout(), Scene(columns=2, rows=2, density=1.0))
    survey.cut_share(3, 0.5)
    return folder


class Heard(NoProgress):
    """Keeps what was said, and counts points."""

    def __init__(self) -> None:
        """Start with nothing."""
        self.said: list[str] = []
        self.steps: list[int] = []

    @property
    def points(self) -> int:
        """Return how many points were told of."""
        return sum(self.steps)

    def advance(self, amount: int) -> None:
        """Count."""
        self.steps.append(amount)

    def notice(self, sentence: str) -> None:
        """Keep it."""
        self.said.append(sentence)


def audit(
    job: Path, folder: Path | Address | None = None, **options: Any
) -> tuple[dict[str, Any], Any]:
    """Return the result without its times, and the values of its entry."""
    result = audit_folder(job, folder or job / "out", AuditOptions(**options), NoProgress())
    with Book.open(job) as book:
        values = book.entry(result.entry).values
    parts = {name: part for name, part in vars(result).items() if name not in {"entry", "seconds"}}
    return parts, dict(values)


def test_a_cluster_enters_what_one_process_enters(job, address, monkeypatch) -> None:
    """Result and entry are the same to the last digit."""
    monkeypatch.setattr(pieces, "LEAST_POINTS", 500)
    assert find_difference(audit(job, workers=1), audit(job, cluster=address)) == ""


def test_a_cluster_reads_from_a_store_what_one_process_reads(
    job, address, store, monkeypatch
) -> None:
    """Each worker reaches it by its own environment; what is entered is the same."""
    monkeypatch.setattr(pieces, "LEAST_POINTS", 500)
    store.put_folder(job / "out", "bucket/out")
    folder = Address("s3", "bucket", "out")
    alone = audit(job, folder, workers=1)
    store.served.clear()
    assert find_difference(alone, audit(job, folder, cluster=address)) == ""
    tile = "bucket/out/tile_0_0.laz"
    assert store.served[tile] >= 2 * len(store.objects[tile])  # its digest here, its points there


def test_a_worker_that_does_not_reach_the_store_is_named(job, address, store) -> None:
    """With what it says itself; nothing is read."""
    store.put_folder(job / "out", "bucket/out")
    (first, *_) = list_store(Address("s3", "bucket", "out"))
    store.refused.add("bucket/out/tile_0_0.laz")
    with Cluster(address) as cluster, pytest.raises(UsageError) as unseen:
        cluster.require_sight([(first, first.size)])
    store.refused.clear()
    assert len(unseen.value.faults) == 2
    assert "the store does not allow reading this" in str(unseen.value)


@pytest.mark.skipif(sys.platform == "win32", reason="ends a process by SIGKILL")
def test_a_worker_that_ends_costs_a_try_and_changes_nothing(job, address, tmp_path) -> None:
    """Killed amid its task: another one reads its files, and all is as before."""
    checks = [Counts(), Troubled("tile_0_0.laz", "kill", tmp_path / "mark")]
    alone = judge(job, checks)
    with Cluster(address) as cluster:
        shared = judge(job, checks, partial(ClusterCrew, cluster=cluster))
    assert (tmp_path / "mark").exists()
    assert shared[:2] == alone[:2]
    (said,) = shared[2].said
    assert said.endswith("left the cluster")


def judge(
    job: Path, checks: list[Any], hire: Any = None
) -> tuple[tuple[Finding, ...], dict[str, str], Heard]:
    """Return findings, files that were lost and what was told; in this process without a hire."""
    files = read_delivery(list_folder(job / "out"), {}, NoProgress())
    paths = {each.file.path: each.found.path for each in files}
    evidence = Evidence("out", Specification(), tuple(each.file for each in files), LENGTH_LATTICE)
    runner, heard = Runner([enable(each) for each in checks], Guard()), Heard()
    runner.read_points(evidence, paths, heard, hire)
    return runner.judge_all(evidence), runner.lost, heard


def test_a_worker_that_hangs_costs_a_try_and_is_started_again(job, store, tmp_path) -> None:
    """Else it would hold what is handed to it next, in this audit and in the one after it."""
    checks = [Counts(), Troubled("tile_0_0.laz", "hang", tmp_path / "mark")]
    alone, _, _ = judge(job, checks)
    with (
        distributed.LocalCluster(n_workers=1, **LOOPBACK) as local,
        Cluster(str(local.scheduler_address)) as cluster,
    ):
        (before,) = cluster.list_workers()
        found, lost, heard = judge(job, checks, partial(ClusterCrew, cluster=cluster, silence_s=1))
        (after,) = cluster.list_workers()
    assert (tmp_path / "mark").exists()
    assert (found, lost) == (alone, {})
    assert after != before
    (said,) = heard.said
    assert f"the worker {before} gave no sign of life for 1 s" in said


@pytest.mark.parametrize("sent", BABBLE)
def test_a_worker_that_sends_rubbish_loses_the_file_and_passes_nothing(
    job, address, monkeypatch, sent
) -> None:
    """It is tried once more, and then named; no check says anything of what was not read."""
    monkeypatch.setattr(cluster_module, "work", partial(babble, sent))
    with Cluster(address) as cluster:
        found, lost, heard = judge(job, [Counts()], partial(ClusterCrew, cluster=cluster))
    names = {"tile_0_0.laz", "tile_0_1.laz", "tile_1_0.laz"}
    assert names <= lost.keys()
    assert all("sent" in why for why in lost.values())
    assert any("will be read once more" in sentence for sentence in heard.said)
    assert heard.points == 0
    told = {f.subject for f in found if f.outcome is Outcome.NOT_ASSESSED}
    assert names <= told


def test_progress_over_a_cluster_ends_at_the_points_that_were_read(
    job, address, monkeypatch
) -> None:
    """It comes from the workers, file by file."""
    monkeypatch.setattr(pieces, "LEAST_POINTS", 500)
    _, _, alone = judge(job, [Counts()])
    with Cluster(address) as cluster:
        _, _, heard = judge(job, [Counts()], partial(ClusterCrew, cluster=cluster))
    assert heard.points == alone.points > 0
    assert len(heard.steps) > 2


def test_workers_that_differ_or_do_not_see_the_files_are_refused_by_name(address) -> None:
    """Each with what differs, before anything is read."""
    with Cluster(address) as cluster:
        workers = cluster.list_workers()
        cluster._here["plugin stranger (x)"] = "4.2, digest abababababab"
        with pytest.raises(UsageError) as refused:
            cluster._require_alike()
        assert [fault.where for fault in refused.value.faults] == list(workers)
        told = "plugin stranger (x): not installed there, 4.2, digest abababababab here"
        assert {fault.found for fault in refused.value.faults} == {told}
        here = Path(__file__)
        with pytest.raises(UsageError) as unseen:
            cluster.require_sight([(here, here.stat().st_size), (here, 1)])
        assert [fault.where for fault in unseen.value.faults] == [
            f"{w}: {__file__}" for w in workers
        ]


def test_an_address_where_nobody_answers_is_one_line(monkeypatch) -> None:
    """Nothing is read, and the sentence names the address."""
    monkeypatch.setattr(cluster_module, "_TIMEOUT_S", 0.2)
    with pytest.raises(UsageError, match=r"no scheduler of a cluster answers.*127\.0\.0\.1:9"):
        Cluster("tcp://127.0.0.1:9")


def test_versions_and_digests_are_compared() -> None:
    """Our own installation is like itself; another digest, version or an absent one is told."""
    here = describe_installation()
    assert {"swathbook core", "plugin swathbook (lidar_checks)", "numpy"} <= here.keys()
    assert compare_installations(here, dict(here)) == ()
    other = {**here, "numpy": "1.0"}
    del other["swathbook core"]
    assert compare_installations(here, other) == (
        f"numpy: 1.0 there, {here['numpy']} here",
        f"swathbook core: not installed there, {here['swathbook core']} here",
    )
