"""Asking for a time stamp over a seal, and keeping the one that came back."""

from __future__ import annotations

import hashlib
import json
import shutil
import zipfile
from pathlib import Path

import pytest
from documented import require
from job_bench import run_here

from ledger import stamped
from ledger.errors import MalformedFileError, UsageError
from ledger.recheck import recheck
from ledger.sealed import read_seals
from ledger.stamped import NOT_ASSESSED, RIGHT, read_stamps
from ledger.store.machine import HOME_VARIABLE
from ledger.store.reading import BOOK_NAME, Book
from ledger.timestamp import keep_timestamp, request_timestamp

FOLDER = Path(__file__).parents[1] / "sealing" / "vectors"
ANSWER, ROOT, OTHER = (
    FOLDER / name for name in ("sealed-book.tsr", "authority.pem", "other-authority.pem")
)
MOMENT = "2026-11-27T00:53:26Z"  # as `openssl ts -reply -text` prints it


@pytest.fixture
def job(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Give the job whose book was stamped."""
    monkeypatch.setenv(HOME_VARIABLE, str(tmp_path / "home"))
    with zipfile.ZipFile(FOLDER / "sealed-book.zip") as packed:
        packed.extract(BOOK_NAME, tmp_path / "job")
    return tmp_path / "job"


def count(job: Path) -> int:
    """Return how many entries the book has."""
    with Book.open(job) as book:
        return book.size


def test_the_request_is_over_the_bytes_of_the_seal(job: Path) -> None:
    """Its digest is that of the file that is handed on; nothing is entered."""
    before = count(job)
    made = request_timestamp(job, job / "seal.tsq")
    with Book.open(job) as book:
        digest = hashlib.sha256(read_seals(book)[-1].content).hexdigest()
    assert made.sha256 == digest
    assert bytes.fromhex(digest) in made.file.read_bytes()
    assert count(job) == before


def test_a_request_is_written_over_nothing(job: Path) -> None:
    """Neither over a file, nor among raw data."""
    with pytest.raises(UsageError, match="not written over"):
        request_timestamp(job, job / BOOK_NAME)
    with pytest.raises(UsageError, match="raw data"):
        request_timestamp(job, job / "raw" / "seal.tsq")


def test_a_stamp_is_kept_with_its_time(job: Path) -> None:
    """With the root of its signer it is right, and the same again enters nothing."""
    kept = keep_timestamp(job, ANSWER, ROOT)
    assert (kept.is_new, kept.stamp.moment, kept.stamp.signature) == (True, MOMENT, RIGHT)
    assert kept.file is not None
    assert kept.file.read_bytes() in ANSWER.read_bytes()
    for root in (ROOT, None):
        again = keep_timestamp(job, ANSWER, root)
        assert (again.is_new, again.stamp) == (False, kept.stamp)


def test_without_a_certificate_nothing_is_proven(job: Path) -> None:
    """The time is told, the signature is not assessed; a certificate can be brought later."""
    first = keep_timestamp(job, ANSWER)
    assert (first.stamp.signature, first.stamp.holds) == (NOT_ASSESSED, True)
    assert "--authority" in first.stamp.told
    keep_timestamp(job, ANSWER, ROOT)
    with Book.open(job) as book:
        assert [each.signature for each in read_stamps(book)] == [RIGHT]


def test_without_the_library_nothing_is_proven(job: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The extra is named."""

    def refuse(module: str, name: str) -> object:
        raise ModuleNotFoundError(module)

    monkeypatch.setattr(stamped, "load_part", refuse)
    kept = keep_timestamp(job, ANSWER, ROOT)
    assert kept.stamp.signature == NOT_ASSESSED
    assert "swathbook[timestamp]" in kept.stamp.told


def test_another_authority_is_refused(job: Path) -> None:
    """Nothing is entered."""
    before = count(job)
    with pytest.raises(UsageError, match="not by the authority"):
        keep_timestamp(job, ANSWER, OTHER)
    assert count(job) == before


def test_a_stamp_over_something_else_is_refused(job: Path) -> None:
    """One over `abc`, and one whose digest was altered to none of the seals."""
    with pytest.raises(UsageError, match="something else than a seal"):
        keep_timestamp(job, FOLDER / "abc.tsr")
    with pytest.raises(MalformedFileError, match=r"README\.md"):
        keep_timestamp(job, FOLDER / "README.md")


def test_a_stamp_with_another_time_is_refused(job: Path, tmp_path: Path) -> None:
    """The time was put back by a year; its signature no longer fits."""
    altered = ANSWER.read_bytes().replace(b"20261127", b"20251127")
    (tmp_path / "altered.tsr").write_bytes(altered)
    with pytest.raises(UsageError, match="signature of the time stamp is wrong"):
        keep_timestamp(job, tmp_path / "altered.tsr", ROOT)


def test_an_older_seal_can_be_stamped_too(job: Path) -> None:
    """The answer comes days later, when the book was sealed again."""
    recheck(job, book_only=True)
    assert run_here(["seal"], job).status == 0
    kept = keep_timestamp(job, ANSWER, ROOT)
    assert kept.stamp.seal == 3


def test_holding_the_book_against_its_seal_tells_the_stamp(job: Path) -> None:
    """The JSON and the screen; a second `seal` makes no new one and tells it as well."""
    keep_timestamp(job, ANSWER, ROOT)
    ran = run_here(["seal", "--json"], job)
    told = json.loads(ran.out)
    require("seal", told)
    assert (told["new"], told["timestamps"][0]["moment"]) == (False, MOMENT)
    ran = run_here(["recheck", "--book-only", "--against", told["file"], "--json"], job)
    assert ran.status == 0, ran.err
    assert json.loads(ran.out)["timestamps"][0]["signature"] == RIGHT
    ran = run_here(["recheck", "--book-only", "--against", told["file"]], job)
    assert "Its signature: right" in " ".join(ran.out.split())
    assert MOMENT in " ".join(run_here([], job).out.split())


def test_the_commands(job: Path, tmp_path: Path) -> None:
    """One thing at a time; a certificate goes with a stamp; a book without a seal is told what."""
    shutil.copyfile(ANSWER, tmp_path / "answer.tsr")
    assert run_here(["seal", "--request", tmp_path / "a.tsq"], job).status == 0
    ran = run_here(["seal", "--timestamp", tmp_path / "answer.tsr", "--authority", ROOT], job)
    assert ran.status == 0, ran.err
    assert "Entered as entry 4" in ran.out
    ran = run_here(["seal", "--timestamp", tmp_path / "answer.tsr", "--json"], job)
    require("seal --timestamp", json.loads(ran.out))
    for words in (["--request", "b", "--close", "2036-12-31"], ["--authority", ROOT]):
        assert run_here(["seal", *words], job).status == 2
    assert run_here(["start", tmp_path / "new"], tmp_path).status == 0
    ran = run_here(["seal", "--request", "c.tsq"], tmp_path / "new")
    assert ran.status == 2
    assert "this book has none" in ran.err
