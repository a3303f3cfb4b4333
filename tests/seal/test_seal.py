"""Sealing a book, and holding it against its seals after it was tampered with."""

from __future__ import annotations

import json
import os
import shutil
import sqlite3
from pathlib import Path

import pytest
from job_bench import run_here
from made_book import MadeBook

from ledger.errors import BrokenBookError, MalformedFileError, UsageError
from ledger.merkle import verify_consistency
from ledger.model.entry import Draft, Kind
from ledger.recheck import RecheckResult, recheck
from ledger.recheck.against import SealState
from ledger.seal import SealResult, seal_book
from ledger.sealed import format_root, read_seals
from ledger.sealing.keys import PRIVATE_NAME, PUBLIC_NAME
from ledger.store.machine import HOME_VARIABLE
from ledger.store.reading import BOOK_NAME, Book
from ledger.store.writing import BookWriter


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Give an office without a key."""
    monkeypatch.setenv(HOME_VARIABLE, str(tmp_path / "home"))
    return tmp_path / "home"


@pytest.fixture
def job(tmp_path: Path, home: Path) -> Path:
    """Give a job with a raw file, a run and an audited folder."""
    return make_job(tmp_path / "job")


def make_job(folder: Path) -> Path:
    """Make a job with a raw file, a run and an audited folder of three files."""
    book = MadeBook(folder)
    book.write("raw/cap.bin", "capture")
    book.register("raw/cap.bin")
    for number in range(3):
        book.write(f"out/tile_{number}.las", f"tile {number}")
    book.run(*(f"out/tile_{number}.las" for number in range(3)))
    shutil.copytree(book.folder / "out", book.folder / "deliver")
    book.audit("deliver")
    book.close()
    return folder


def seal(job: Path, keep_until: str = "") -> SealResult:
    """Seal with a key that has no passphrase."""
    return seal_book(job, lambda _: "", keep_until=keep_until)


def grow(job: Path) -> None:
    """Enter one thing more."""
    with BookWriter.open(job) as writer:
        writer.append(Draft(Kind.FLIGHT, {"id": "F9", "name": "", "values": {}}))


def hold(job: Path, *seals: object) -> RecheckResult:
    """Hold the book against seals."""
    return recheck(job, book_only=True, against=[str(each) for each in seals])


def test_a_seal_holds_and_goes_on_holding(job: Path) -> None:
    """The book fits its seal at once and after it has grown, by file and by printed root."""
    made = seal(job)
    assert made.file is not None
    grow(job)
    result = hold(job, made.file, format_root(made.head.root))
    assert [each.state for each in result.seals] == [SealState.HOLDS] * 2
    assert result.state_ok
    assert [each.later for each in result.seals] == [2, 2]  # the seal itself and one entry more
    assert "this computer's office" in result.seals[0].signature


def test_a_seal_is_not_made_twice_of_the_same_book(job: Path) -> None:
    """Nothing was entered since: the same seal is given again, also where its file was lost."""
    first = seal(job)
    assert first.file is not None
    content = first.file.read_bytes()
    first.file.unlink()
    again = seal(job)
    assert (again.is_new, again.entry, again.head) == (False, first.entry, first.head)
    assert first.file.read_bytes() == content


def test_each_seal_proves_that_it_grew_from_the_last(job: Path) -> None:
    """The proof kept with a seal is that of RFC 9162 between the two roots."""
    first = seal(job)
    grow(job)
    grow(job)
    second = seal(job)
    assert (first.since, second.since) == (0, first.head.size)
    heads = first.head.size, first.head.root, second.head.size, second.head.root
    assert verify_consistency(*heads, second.consistency)
    assert not verify_consistency(*heads, second.consistency[1:])
    with Book.open(job) as book:
        assert [each.head for each in read_seals(book)] == [first.head, second.head]


def test_the_office_makes_one_key_for_all_jobs(tmp_path: Path, job: Path, home: Path) -> None:
    """The second job is sealed with the key of the first, which lies in no job folder."""
    other = make_job(tmp_path / "other")
    first, second = seal(job), seal(other)
    assert (first.made_key, second.made_key) == (True, False)
    assert first.key == second.key
    secret = (home / PRIVATE_NAME).read_bytes().split(b"\n")[1]
    for path in (*job.rglob("*"), *other.rglob("*")):
        assert not path.is_file() or secret not in path.read_bytes()


def test_a_key_whose_making_was_cut_short_is_used(job: Path, home: Path) -> None:
    """A computer that went off between the two halves: the public one is told by the private."""
    first = seal(job)
    (home / PUBLIC_NAME).unlink()
    grow(job)
    second = seal(job)
    assert (second.made_key, second.key) == (False, first.key)
    assert second.key.text in (home / PUBLIC_NAME).read_text(encoding="utf-8")


def test_an_empty_private_key_is_told_with_what_to_do(job: Path, home: Path) -> None:
    """What a power cut may leave is never written over: it may be the only copy."""
    home.mkdir(exist_ok=True)
    (home / PRIVATE_NAME).touch(mode=0o600)
    with pytest.raises(MalformedFileError, match="move it away"):
        seal(job)
    assert (home / PRIVATE_NAME).read_bytes() == b""


def test_last_entries_that_were_dropped_are_missed(job: Path, tmp_path: Path) -> None:
    """A book from before the seal is unbroken in itself, and told by seal and by root."""
    shutil.copyfile(job / BOOK_NAME, tmp_path / "older")
    made = seal(job)
    shutil.copyfile(tmp_path / "older", job / BOOK_NAME)
    result = hold(job, made.file, format_root(made.head.root))
    assert result.book == "unbroken"
    assert [each.state for each in result.seals] == [SealState.ROLLED_BACK, SealState.FORKED]
    assert not result.state_ok
    assert not result.is_incomplete
    assert result.entry is None


def test_a_book_that_went_another_way_is_told(job: Path, tmp_path: Path) -> None:
    """Two books from one root: the seal of one does not fit the other, however long it grew."""
    shutil.copyfile(job / BOOK_NAME, tmp_path / "older")
    grow(job)
    made = seal(job)
    shutil.copyfile(tmp_path / "older", job / BOOK_NAME)
    for _ in range(5):
        grow(job)
    assert [each.state for each in hold(job, made.file).seals] == [SealState.FORKED]


def test_a_book_that_its_own_folders_seal_does_not_fit_is_not_sealed(
    job: Path, tmp_path: Path
) -> None:
    """Rolled back or forked to the same length, it would write its seal over the one that tells."""
    shutil.copyfile(job / BOOK_NAME, tmp_path / "older")
    grow(job)
    made = seal(job)
    assert made.file is not None
    told = made.file.read_bytes()
    shutil.copyfile(tmp_path / "older", job / BOOK_NAME)
    with pytest.raises(BrokenBookError, match="not the one that was sealed") as refused:
        seal(job)
    assert made.file.name in str(refused.value)
    unasked = recheck(job, book_only=True, by="office")
    assert [each.state for each in unasked.seals] == [SealState.ROLLED_BACK]
    assert unasked.entry is None  # on top of another history it would hide it deeper
    while Book.open(job).size < made.head.size:
        grow(job)
    with pytest.raises(BrokenBookError, match="not the one that was sealed"):
        seal(job)
    assert made.file.read_bytes() == told
    made.file.write_bytes(b"not a seal")
    assert seal(job).is_new


def test_the_seal_of_another_job_is_told(job: Path, tmp_path: Path) -> None:
    """Its first entry is another."""
    other = seal(make_job(tmp_path / "other"))
    assert [each.state for each in hold(job, other.file).seals] == [SealState.OTHER_BOOK]


def test_a_seal_whose_text_was_altered_is_not_genuine(job: Path) -> None:
    """A root put in by hand does not fit the signature."""
    made = seal(job)
    assert made.file is not None
    text = made.file.read_text(encoding="utf-8")
    made.file.write_text(text.replace(f"\n{made.head.size}\n", "\n3\n"), encoding="utf-8")
    assert [each.state for each in hold(job, made.file).seals] == [SealState.NOT_GENUINE]
    ran = run_here(["recheck", "--book-only", "--against", made.file], job)
    assert ran.status == 1
    assert "The seal is not genuine: it says nothing of the book." in ran.out
    assert "not the one that was sealed" not in ran.out


def test_a_seal_of_an_unknown_key_says_so(
    job: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Without its key nothing vouches for a seal; named on the command line it is checked."""
    shutil.copyfile(job / BOOK_NAME, tmp_path / "older")
    made = seal(job)
    shutil.copyfile(tmp_path / "older", job / BOOK_NAME)
    grow(job)
    grow(job)
    monkeypatch.setenv(HOME_VARIABLE, str(tmp_path / "elsewhere"))
    (answer,) = hold(job, made.file).seals
    assert "not checked" in answer.signature
    (answer,) = recheck(job, book_only=True, against=[str(made.file)], keys=[made.key.text]).seals
    assert "the key that was named" in answer.signature


def make_change(seq: int, column: str, place: int) -> str:
    """Return the statement that changes one byte of a row."""
    before, after = f"substr({column}, 1, {place - 1})", f"substr({column}, {place + 1})"
    other = f"CASE hex(substr({column}, {place}, 1)) WHEN '41' THEN x'42' ELSE x'41' END"
    return (
        f"UPDATE journal SET {column} = CAST({before} || {other} || {after} AS BLOB) "  # noqa: S608
        f"WHERE seq = {seq}"
    )


def rewrite(job: Path, change: str) -> None:
    """Change rows of the journal past the triggers."""
    connection = sqlite3.connect(job / BOOK_NAME)
    for (name,) in connection.execute(
        "SELECT name FROM sqlite_master WHERE type = 'trigger'"
    ).fetchall():
        connection.execute(f"DROP TRIGGER {name}")
    connection.executescript(change)
    connection.commit()
    connection.close()


def test_any_byte_of_any_row_is_told_against_a_seal(job: Path) -> None:
    """Each row of the journal, a byte of its body and of its root in turn."""
    made = seal(job)
    size = made.head.size
    kept = (job / BOOK_NAME).read_bytes()
    for seq in range(1, size + 1):
        for column in ("body", "root"):
            for place in (1, 9, 23):
                rewrite(job, make_change(seq, column, place))
                result = hold(job, made.file)
                assert result.book == "broken", (seq, column, place)
                assert not result.is_book_right
                (job / BOOK_NAME).write_bytes(kept)


def test_two_entries_that_changed_places_are_told(job: Path) -> None:
    """Their bodies and roots swapped, numbers kept."""
    made = seal(job)
    rewrite(
        job,
        "UPDATE journal SET seq = 1000 WHERE seq = 2; UPDATE journal SET seq = 2 WHERE seq = 3;"
        "UPDATE journal SET seq = 3 WHERE seq = 1000",
    )
    assert not hold(job, made.file).is_book_right


def test_a_broken_book_is_not_sealed(job: Path) -> None:
    """The line says what is broken."""
    rewrite(job, "UPDATE journal SET body = x'00' WHERE seq = 2")
    with pytest.raises(BrokenBookError, match="cannot be sealed"):
        seal(job)


def test_closing_a_job_keeps_the_day(job: Path) -> None:
    """The day until which it is kept stands in the seal's entry; a day that is none is refused."""
    with pytest.raises(UsageError, match="year-month-day"):
        seal(job, "2036-13-01")
    with pytest.raises(UsageError, match="year-month-day"):
        seal(job, "20361231")
    assert seal(job, "2036-12-31").keep_until == "2036-12-31"
    with Book.open(job) as book:
        assert [each.closes for each in read_seals(book)] == ["2036-12-31"]


@pytest.mark.skipif(os.name == "nt" or os.geteuid() == 0, reason="nothing is closed to this user")
def test_a_folder_that_cannot_be_written_to_loses_no_seal(job: Path) -> None:
    """The book holds the seal; the screen says that it was not left as a file."""
    (job / "seals").mkdir(mode=0o500)
    made = seal(job)
    assert made.file is None
    assert made.not_written


def test_a_place_for_seals_that_is_a_file_loses_no_seal(job: Path) -> None:
    """The book holds it; what stands in the way is told."""
    (job / "seals").write_bytes(b"")
    made = seal(job)
    assert (made.file, made.is_new) == (None, True)
    assert "seals" in made.not_written


def test_commands(job: Path, home: Path) -> None:
    """Seal and recheck as they are typed, as screens and as JSON."""
    ran = run_here(["seal"], job)
    assert ran.status == 0, ran.err
    assert "Sealed: entries 1 to" in ran.out
    file = next((job / "seals").iterdir())
    ran = run_here(["recheck", "--book-only", "--against", file, "--json"], job)
    assert ran.status == 0, ran.err
    assert [each["state"] for each in json.loads(ran.out)["seals"]] == ["holds"]
    ran = run_here(["recheck", "--book-only", "--against", "1f0c 22d1"], job)
    assert ran.status == 2
    assert ran.lines[0].count("neither the file of a seal nor a root") == 1
    digits = "0123 " * 16
    ran = run_here(["recheck", "--book-only", "--against", digits], job)
    assert ran.status == 1
    assert "The book is not the one that was sealed." in ran.out


def test_a_passphrase_is_taken_from_the_environment(
    job: Path, home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Without a terminal there is no other way; a wrong one ends in one line."""
    monkeypatch.setenv("SWATHBOOK_SEAL_PASSPHRASE", "tide table")
    assert run_here(["seal"], job).status == 0
    grow(job)
    monkeypatch.setenv("SWATHBOOK_SEAL_PASSPHRASE", "another")
    ran = run_here(["seal"], job)
    assert (ran.status, len(ran.lines)) == (2, 1)
    assert "passphrase" in ran.err
