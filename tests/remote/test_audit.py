"""A folder of a store audited: the digits of the same folder on a drive, and no pass without them.

The files are of other programs (`tests/real/ORIGIN.md`) and of made surveys, sound and damaged.
"""

from __future__ import annotations

import json
import pickle
import shutil
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pytest
import s3fs
from made_store import KEY, SECRET, Store
from made_workers import Shuffled

from ledger.audit.hands import Hands
from ledger.audit.running import audit_folder
from ledger.auditentry import read_audit, write_finding
from ledger.canonical import decode
from ledger.cli.frame import main
from ledger.contract import pieces
from ledger.contract.evidence import DeliveredFile
from ledger.contract.passing import PointPass
from ledger.contract.portions import Tools, carry_out
from ledger.errors import StoreError
from ledger.lasheader import read_las_header
from ledger.lattice import LENGTH_LATTICE
from ledger.model.address import Address
from ledger.model.ask import NoProgress
from ledger.model.audit import AUDIT_ITSELF, AuditOptions
from ledger.model.finding import Outcome
from ledger.model.verdict import Verdict
from ledger.store.reading import Book
from ledger.store.writing import create_book
from ledger.testing import Scene, SurveyBuilder

REAL = Path(__file__).parents[1] / "real"
FILES = ("1_4_w_evlr.laz", "broken_size.laz", "crop.las", "plane.laz")
CLOUD_OPTIMISED = "autzen.copc.laz"
DELIVER = Address("s3", "bucket", "jobs/deliver")
ADDRESS = str(DELIVER)
SPECIFICATION = """
[criteria.point-density]
min_pts_per_m2 = 2

[criteria.seams]
step_max_m = 0.05
"""


@pytest.fixture(scope="module")
def tiles(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a folder with LAS and LAZ files, one cut, one broken, and a text."""
    folder = tmp_path_factory.mktemp("tiles") / "deliver"
    survey = SurveyBuilder(folder, scene=Scene(columns=2, rows=1, density=2.0))
    survey.cut_share(1, 0.5)
    for name in FILES:
        shutil.copy(REAL / name, folder)
    (folder / "notes").mkdir()
    (folder / "notes" / "read me.txt").write_text("For the client.", encoding="utf-8")
    return folder


@pytest.fixture
def job(tmp_path: Path, tiles: Path, store: Store) -> Path:
    """Return a job whose delivery lies in a store."""
    folder = tmp_path / "job"
    folder.mkdir()
    create_book(folder).close()
    (folder / "job.toml").write_text(SPECIFICATION, encoding="utf-8")
    store.put_folder(tiles, "bucket/jobs/deliver")
    return folder


def audit(job: Path, folder: Path | Address = DELIVER, **options: Any) -> Any:
    """Return the result of an audit."""
    return audit_folder(job, folder, AuditOptions(**options), NoProgress())


def read_entered(job: Path, number: int) -> tuple[dict[str, Any], list[dict[str, Any]]]:
    """Return the values of an entry but for the place, and its findings but for what to type."""
    with Book.open(job) as book:
        entry = book.entry(number)
        assert entry is not None
        values = {**entry.values, "fingerprints": decode(book.blob(entry.values["fingerprints"]))}
        findings = [write_finding(each.finding) for each in read_audit(book, entry).findings]
    for name in ("folder", "seen", "findings", "id"):
        del values[name]
    return values, [_leave_out_place(each) for each in findings]


def _leave_out_place(finding: Mapping[str, Any]) -> dict[str, Any]:
    told = json.loads(json.dumps(finding).replace(ADDRESS, "deliver"))
    return {name: value for name, value in told.items() if name != "remedy"}


def test_the_digits_are_those_of_the_same_folder_on_a_drive(
    job: Path, tiles: Path, store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Manifest, fingerprints, figures, maps and findings, by one process and by two."""
    monkeypatch.setattr(pieces, "LEAST_POINTS", 500)
    shutil.copytree(tiles, job / "deliver")
    shutil.copy(REAL / CLOUD_OPTIMISED, job / "deliver")
    store.put_folder(job / "deliver", "bucket/jobs/deliver")
    here = audit(job, job / "deliver", workers=1)
    assert here.points > 10_000
    entered = read_entered(job, here.entry)
    for workers in (1, 2):
        assert read_entered(job, audit(job, workers=workers).entry) == entered


def test_every_byte_is_fetched_at_most_twice_and_a_little(job: Path, store: Store) -> None:
    """Once for the digest, once for the points, and the headers and heads of chunks."""
    audit(job, workers=1)
    for name, content in store.objects.items():
        twice = 2 * len(content) if name.endswith((".las", ".laz")) else len(content)
        assert store.served[name] <= twice + 6 * 16_384, name


def test_a_quick_audit_fetches_headers_alone(job: Path, store: Store) -> None:
    """Of 8 MB of points some kilobytes; no digest is made up, and nothing passes on it."""
    big = REAL.joinpath("crop.las").read_bytes() + bytes(8_000_000)
    store.objects = {"bucket/jobs/deliver/big.las": big}
    result = audit(job, quick=True)
    assert store.sent <= 3 * 16_384 < len(big) / 100
    assert result.verdict is not Verdict.FIT_TO_SEND
    (told,) = [each for each in result.findings if each.check == AUDIT_ITSELF]
    assert told.outcome is Outcome.NOT_ASSESSED
    assert "No digest was made of 1 file" in told.sentence
    with Book.open(job) as book:
        (row,) = decode(book.blob(book.entry(result.entry).values["manifest"]))
        assert row["sha256"] == ""
        assert row["version"]
    again = audit(job, quick=True)
    assert again.manifest_sha256 == result.manifest_sha256
    store.objects = {"bucket/jobs/deliver/big.las": big[:-1] + b"1"}
    assert audit(job, quick=True).manifest_sha256 != result.manifest_sha256


def test_a_quick_audit_takes_digests_of_the_same_version(job: Path, store: Store) -> None:
    """After a full audit every digest is known, until the store holds another version."""
    full = audit(job, workers=1)
    store.served.clear()
    quick = audit(job, quick=True)
    assert (quick.manifest_sha256, quick.known_digests) == (full.manifest_sha256, full.files)
    store.objects["bucket/jobs/deliver/crop.las"] += b"x"
    assert audit(job, quick=True).known_digests == full.files - 1


@pytest.mark.parametrize("when", [1, 2, 3])
def test_a_version_that_changes_meanwhile_is_never_a_pass(
    job: Path, store: Store, when: int
) -> None:
    """While it is hashed, when its header is read, and while its points are: it is named."""
    name, seen = "bucket/jobs/deliver/plane.laz", []

    def change(read: str) -> None:
        seen.extend([read] if read == name else [])
        if len(seen) == when:
            store.objects[name] = store.objects[name][:-1] + b"!"

    store.objects = {name: store.objects[name]}
    store.on_read = change
    result = audit(job, workers=1)
    assert len(seen) >= when
    assert result.verdict is not Verdict.FIT_TO_SEND
    told = [each.sentence for each in result.findings if each.check == AUDIT_ITSELF]
    assert any("plane.laz was not audited" in each for each in told), told
    readable = [each for each in result.findings if each.check == "file-readable"]
    assert readable
    assert not any(each.outcome is Outcome.CONFORMS for each in readable)


@pytest.mark.parametrize("shared", [False, True])
def test_a_store_that_is_lost_ends_the_audit_in_one_line(
    job: Path, store: Store, monkeypatch: pytest.MonkeyPatch, capsys: Any, shared: bool
) -> None:
    """Amid the points: exit 2, and nothing is entered; no file is called damaged for it."""
    monkeypatch.setattr(s3fs.S3FileSystem, "retries", 1)
    if shared:  # by a crew that works in this process, in pieces
        monkeypatch.setattr(pieces, "LEAST_POINTS", 500)
        monkeypatch.setattr(Hands, "choose", lambda *_: lambda kit: Shuffled(kit, seed=5))
    name = "bucket/jobs/deliver/plane.laz"

    def lose(read: str) -> None:
        # Opened for its digest, its header, where it is cut when it is shared, and its points.
        if store.requests.count(("HEAD", name, "")) >= (4 if shared else 3):
            store.cuts[read] = 1000

    store.objects = {name: store.objects[name]}
    store.on_read = lose
    status = main(["--job", str(job), "audit", ADDRESS, "--workers", "1"])
    said = capsys.readouterr()
    assert status == 2
    assert said.err.strip().splitlines()[-1].startswith(f"swathbook: {ADDRESS}/plane.laz: ")
    assert "broke off, and trying again did not help" in said.err
    with Book.open(job) as book:
        assert [entry.kind for entry in book.entries("audit")] == []


def test_a_worker_that_loses_the_store_says_so_and_goes_on_living(
    tiles: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What it sends back is an answer of its own, for a whole file and for a span of one."""

    def lose(*_: object) -> None:
        raise StoreError("the store cannot be reached", where=ADDRESS)

    monkeypatch.setattr(PointPass, "read", lose)
    monkeypatch.setattr(PointPass, "read_span", lose)
    path = tiles / "plane.laz"
    file, header = DeliveredFile(path.name, "", 0, "points"), read_las_header(path)
    asked = [pieces.Piece(file, header, path), pieces.Piece(file, header, path, (0, 10))]
    answer = carry_out(Tools({}, {}, LENGTH_LATTICE), asked, NoProgress())
    sent = pickle.loads(pickle.dumps(answer))  # noqa: S301 - made above
    told = [StoreError.from_faults(each.store_faults) for each in sent.pieces]
    assert [str(each) for each in told] == [f"{ADDRESS}: the store cannot be reached"] * 2


def test_one_object_that_may_not_be_read_is_named(job: Path, store: Store) -> None:
    """The others are audited; the verdict rests on none that nobody read."""
    store.refused.add("bucket/jobs/deliver/plane.laz")
    result = audit(job, workers=1)
    told = [each for each in result.findings if each.where.file == "plane.laz"]
    assert any("the store does not allow reading this" in each.sentence for each in told)
    assert not any(each.outcome is Outcome.CONFORMS for each in told)
    assert any(each.where.file == "crop.las" for each in result.findings)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["audit", "s3://bucket/nothing"], "there is no file in the folder"),
        (["audit", "s3://nothing/x"], "there is no such bucket or object in the store"),
        (["audit", f"s3://{KEY}:{SECRET}@bucket/x"], "without user name, password, port and query"),
        (["audit", f"https://bucket/x?{SECRET}"], "this kind of address is not reached"),
        (["register", "s3://bucket/x"], "copy it to a drive"),
        (["compare", "s3://bucket/x", "deliver"], "copy it to a drive"),
        (["recheck", "s3://bucket/x"], "copy it to a drive"),
        (["handover", "s3://bucket/x", "--to", "a", "--use", "b"], "copy it to a drive"),
        (["trace", "s3://bucket/x"], "no audit has seen this object"),
    ],
)
def test_what_cannot_be_done_is_refused_in_one_line(
    job: Path, capsys: Any, words: list[str], said: str
) -> None:
    """Exit 2 with what to do, and without what may be a secret."""
    assert main(["--job", str(job), *words]) == 2
    told = capsys.readouterr().err
    assert said in told
    assert len(told.strip().splitlines()) == 1
    assert SECRET not in told


def test_the_commands_after_it_say_where_it_lies(job: Path, store: Store, capsys: Any) -> None:
    """Trace knows the object by its address; recheck and status do not call it missing."""
    result = audit(job, workers=1)
    store.requests.clear()
    assert main(["--job", str(job), "trace", f"{ADDRESS}/plane.laz"]) == 0
    told = capsys.readouterr().out
    assert f"{ADDRESS}/plane.laz" in told.replace("\n", "")
    assert "The store was not asked" in told
    assert "There is no file" not in told
    assert main(["--job", str(job), "recheck"]) == 3
    told = capsys.readouterr().out
    assert "lie in a store, which only an audit reads" in " ".join(told.split())
    assert f"Next: swathbook audit {ADDRESS}" in told
    assert main(["--job", str(job)]) == 0
    told = " ".join(capsys.readouterr().out.split())
    assert f"{result.id}, {ADDRESS}" in told
    assert "lies in a store" in told
    assert store.requests == []


def test_nothing_that_opens_the_store_is_kept(job: Path, store: Store, capsys: Any) -> None:
    """Neither in the book nor beside it, nor on a screen, in JSON or in the line of a failure."""
    assert main(["--job", str(job), "audit", ADDRESS, "--json"]) == 1
    store.refused.add("bucket")
    assert main(["--job", str(job), "audit", ADDRESS]) == 2
    said = capsys.readouterr()
    hidden = (KEY, SECRET, store.address, "Signature", "Authorization")
    kept = [path.read_bytes() for path in job.rglob("*") if path.is_file()]
    assert len(kept) >= 2
    for secret in hidden:
        assert secret not in said.out + said.err
        assert not any(secret.encode() in content for content in kept)
    with Book.open(job) as book:
        (entry,) = book.entries("audit")
        told = json.dumps(dict(entry.values), default=str)
        for name in ("manifest", "seen", "findings", "fingerprints"):  # which are kept compressed
            told += book.blob(entry.values[name]).decode()
    assert ADDRESS in told
    assert not any(secret in told for secret in hidden)


def test_a_store_is_only_ever_read(job: Path, store: Store) -> None:
    """Every request is one of the two that read."""
    audit(job, workers=1)
    assert {method for method, _, _ in store.requests} == {"GET", "HEAD"}
