"""What lies where the book should be, and folders that nothing can be written to."""

from __future__ import annotations

import contextlib
import errno
import os
import sqlite3
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest
from job_bench import JobBench, read_json

NOBODY = 65534  # the user without rights, by convention of Unix systems
COMMANDS = [
    ["register", "a.txt"],
    ["record", "a.txt"],
    ["record", "flight"],
    ["record", "decision", "R1", "rejected", "--reason", "x"],
    ["audit", "folder"],
    ["accept", "abcd1234", "--by", "site engineer", "--reason", "x"],
    ["trace", "a.txt"],
    ["trace", "R1"],
    ["recheck"],
    ["recheck", "a.txt"],
    ["record", "rig"],
    ["amend", "R1", "--set", "software=x", "--reason", "x"],
    ["compare", "R1", "R2"],
    ["find", "x"],
]


@pytest.fixture
def outside(bench: JobBench) -> JobBench:
    """Return a bench whose commands are typed in a folder that is no job."""
    folder = bench.base / "elsewhere"
    (folder / "folder").mkdir(parents=True)
    (folder / "a.txt").write_bytes(b"a")
    (folder / "folder" / "a.txt").write_bytes(b"a")
    bench.job = folder
    return bench


def list_tree(folder: Path) -> list[str]:
    """Return every path below a folder."""
    return sorted(path.relative_to(folder).as_posix() for path in folder.rglob("*"))


@pytest.mark.parametrize("words", COMMANDS, ids=" ".join)
def test_without_a_book(outside: JobBench, words: list[str]) -> None:
    """Outside of a job each command is one line that says how to begin, and makes nothing."""
    before = list_tree(outside.job)
    ran = outside.run(*words, "--json")
    assert (ran.status, len(ran.lines)) == (2, 1)
    assert "swathbook start" in ran.err
    (error,) = read_json(ran.out)["errors"]
    assert error["kind"] == "no-book"
    assert list_tree(outside.job) == before


def make_newer(path: Path) -> None:
    """Make a book as a later version lays it out."""
    with sqlite3.connect(path) as book:
        book.execute(f"PRAGMA application_id = {0x5377426B}")
        book.execute("PRAGMA user_version = 99")
        book.execute("CREATE TABLE journal (seq INTEGER)")
    book.close()


def make_foreign(path: Path) -> None:
    """Make a database of another program."""
    with sqlite3.connect(path) as book:
        book.execute("CREATE TABLE orders (id INTEGER)")
    book.close()


FOREIGN = {
    "another database": (make_foreign, "foreign-book"),
    "a text": (lambda path: path.write_text("dear diary\n" * 99, encoding="utf-8"), "foreign-book"),
    "no bytes": (lambda path: path.write_bytes(b""), "foreign-book"),
    "a point file": (lambda path: path.write_bytes(b"LASF" + bytes(4092)), "foreign-book"),
    "only the first page": (
        lambda path: path.write_bytes(b"SQLite format 3\0" + bytes(84)),
        "foreign-book",
    ),
    "a newer book": (make_newer, "newer-book"),
}


@pytest.mark.parametrize(("make", "kind"), FOREIGN.values(), ids=FOREIGN)
@pytest.mark.parametrize("words", [*COMMANDS, []], ids=" ".join)
def test_another_file_in_place_of_the_book(
    outside: JobBench, words: list[str], make, kind: str
) -> None:
    """A file of that name that is no book of ours is refused in one line and left as it is."""
    book = outside.job / "swathbook.sqlite"
    make(book)
    (outside.job / "job.toml").write_bytes(b"")
    before = book.read_bytes()
    ran = outside.run(*words, "--json")
    assert (ran.status, len(ran.lines)) == (2, 1), ran
    (error,) = read_json(ran.out)["errors"]
    assert error["kind"] == kind, error
    assert "swathbook.sqlite" in error["where"]
    assert book.read_bytes() == before


def test_a_folder_in_place_of_the_book_is_none(outside: JobBench) -> None:
    """A folder called like the book makes no job."""
    (outside.job / "swathbook.sqlite").mkdir()
    ran = outside.run("recheck")
    assert (ran.status, len(ran.lines)) == (2, 1)
    assert "there is no book" in ran.err


def test_a_pipe_in_place_of_the_book_is_none(outside: JobBench) -> None:
    """A pipe of that name is not waited for."""
    os.mkfifo(outside.job / "swathbook.sqlite")
    ran = outside.run("recheck")
    assert (ran.status, len(ran.lines)) == (2, 1)


def test_starting_where_a_job_is_touches_nothing(bench: JobBench) -> None:
    """A second `start` in the same folder is refused, and so is one inside a file."""
    before = [
        path.read_bytes() for path in (bench.job / "job.toml", bench.job / "swathbook.sqlite")
    ]
    bench.refuse("start", ".")
    assert before == [
        path.read_bytes() for path in (bench.job / "job.toml", bench.job / "swathbook.sqlite")
    ]
    for place in ("job.toml", "job.toml/below"):
        bench.refuse("start", place)


@pytest.mark.parametrize(
    "like",
    ["nothing", "raw", "job.toml/x", "swathbook.sqlite", ""],
    ids=lambda like: like or "empty",
)
def test_taking_over_from_what_is_no_job(bench: JobBench, like: str) -> None:
    """`--like` of something else is one line, and no new folder is left behind.

    The book of a job names the job, so that alone is no mistake.
    """
    ran = bench.run("start", "../new", "--like", like)
    expected = 0 if like == "swathbook.sqlite" else 2
    assert (ran.status, len(ran.lines)) == (expected, bool(expected))
    assert (bench.base / "new").exists() == (not expected)


@pytest.mark.parametrize("folder", ["nothing", "", "raw/../none", "job.toml/x"])
def test_a_mistyped_job_folder_is_refused(bench: JobBench, folder: str) -> None:
    """`--job` of what is not there must not end up in the book of the working folder."""
    bench.write("raw/a.txt", b"a")
    for words in (["register", "raw"], ["recheck"], ["trace", "raw/a.txt"], []):
        bench.refuse("--job", folder, *words)


def test_a_changed_book_takes_no_entries(bench: JobBench) -> None:
    """Nothing is added to a book whose rows were changed; a recheck says where, exit status 1."""
    bench.write("raw/a.txt", b"a")
    bench.ask("register", "raw")
    book = sqlite3.connect(bench.job / "swathbook.sqlite")
    for (name,) in book.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
        book.execute(f"DROP TRIGGER {name}")
    with book:
        book.execute("UPDATE journal SET body = replace(body, 'technician', 'technicien')")
    size = book.execute("SELECT count(*) FROM journal").fetchone()
    for words in (["register", "raw"], ["audit", "raw"], ["record", "flight"]):
        ran = bench.run(*words)
        assert (ran.status, len(ran.lines)) == (2, 1), ran
    told = bench.ask("recheck", status=1)
    assert (told["book"], told["first_broken_entry"], told["entry"]) == ("broken", 1, None)
    assert told["not_entered"]
    assert book.execute("SELECT count(*) FROM journal").fetchone() == size
    book.close()


def test_lying_derived_tables_are_mended_by_a_recheck(bench: JobBench) -> None:
    """What can be made anew from the journal is made anew, before the recheck is entered."""
    bench.write("raw/a.txt", b"a")
    bench.ask("register", "raw")
    book = sqlite3.connect(bench.job / "swathbook.sqlite")
    with book:
        book.execute("UPDATE files SET sha256 = 'ff' WHERE relation = 'registered'")
        book.execute("DELETE FROM nodes WHERE level = 0")
    book.close()
    ran = bench.run("recheck")
    assert (ran.status, ran.err) == (0, "")
    assert "made anew" in ran.out
    assert "that is done now" in ran.out
    assert [entry.kind for entry in bench.read_journal()][-1] == "recheck"  # and nothing lies now
    assert "made anew" not in bench.run("recheck").out
    assert bench.ask("trace", "raw/a.txt")["known"]


@pytest.fixture
def lent() -> Iterator[JobBench]:
    """Return a job in a folder that another user may look into."""
    with tempfile.TemporaryDirectory() as folder:
        base = Path(folder).resolve()
        base.chmod(0o755)
        with pytest.MonkeyPatch.context() as patch:
            patch.setenv("SWATHBOOK_HOME", str(base / "home"))
            made = JobBench(base)
            made.write("raw/a.txt", b"a")
            made.ask("register", "raw")
            for words in (["trace", "raw/a.txt"], ["recheck"], ["record", "flight"], []):
                made.run(*words)  # whatever is loaded late is loaded now, while it may be read
            yield made
        for path in (*base.rglob("*"), base):
            path.chmod(0o700)


@contextlib.contextmanager
def as_nobody() -> Iterator[None]:
    """Work as a user whom rights stop, which is what every user but root is."""
    if not hasattr(os, "geteuid"):
        pytest.skip("this system has other rights")
    if not is_root():
        yield
        return
    # From a folder that nobody may enter there would be no way back after a command's own steps.
    with contextlib.chdir("/"):
        os.seteuid(NOBODY)
        try:
            yield
        finally:
            os.seteuid(0)


def is_root() -> bool:
    """Say whether rights would not stop this process."""
    return os.geteuid() == 0


def test_a_job_on_read_only_media_still_answers(lent: JobBench) -> None:
    """Where nothing can be written, questions are answered and entries refused in one line."""
    before = lent.read_journal()
    for path in (*lent.job.rglob("*"), lent.job):
        path.chmod(0o555 if path.is_dir() else 0o444)
    with as_nobody():
        for words in (["trace", "raw/a.txt"], []):
            ran = lent.run(*words)
            assert (ran.status, ran.err) == (0, ""), words
        ran = lent.run("recheck")
        assert (ran.status, ran.err) == (0, "")
        assert "was not entered" in " ".join(ran.out.split())
        refused = [["register", "raw"], ["record", "flight"], ["record", "raw"], ["start", "new"]]
        for words in [*refused, *([] if is_root() else [["audit", "raw"]])]:
            ran = lent.run(*words)
            assert (ran.status, ran.out, len(ran.lines)) == (2, "", 1), (words, ran)
    assert lent.read_journal() == before


def test_files_that_may_not_be_read(lent: JobBench) -> None:
    """A file or a folder without rights is told by name: left out of a register, else one line."""
    for path in (lent.job, lent.job / ".swathbook"):
        path.mkdir(exist_ok=True)
        path.chmod(0o777)
    (lent.job / "swathbook.sqlite").chmod(0o666)
    lent.write("more/open.txt", b"open")
    lent.write("more/closed.las", b"LASF").chmod(0)
    lent.write("more/shut/within.txt", b"within")
    before = lent.read_journal()
    with as_nobody():
        for words in (["trace", "more/closed.las"], ["record", "more/closed.las"]):
            ran = lent.run(*words)
            assert (ran.status, ran.out, len(ran.lines)) == (2, "", 1), (words, ran)
            assert "closed.las: cannot be read: the system does not allow reading it" in ran.err
    assert lent.read_journal() == before
    (lent.job / "more" / "shut").chmod(0)
    with as_nobody():
        told = lent.ask("register", "more", status=1)
    assert [file["path"] for file in told["files"]] == ["more/open.txt"]
    closed, shut = told["left_out"]
    assert closed["path"] == "more/closed.las"
    assert "the system does not allow reading it" in closed["why"]
    assert shut["path"] == "more/shut"
    assert f"the folder cannot be listed: found {os.strerror(errno.EACCES)}" in shut["why"]
    assert not told["card_may_be_cleared"]
    state = {row["topic"]: row["sentence"] for row in lent.ask()["state"]}
    assert "more/closed.las and 1 more could not be read and are in no copy" in state["card"]
    before = lent.read_journal()
    (lent.job / "more").chmod(0)
    with as_nobody():
        for words in (["register", "more"], ["record", "more"]):
            ran = lent.run(*words)
            assert (ran.status, ran.out, len(ran.lines)) == (2, "", 1), (words, ran)
        assert "nothing was entered" in lent.run("register", "more").err
    (lent.job / "more").chmod(0o755)
    assert lent.read_journal() == before


def test_a_scratch_folder_that_takes_nothing(lent: JobBench) -> None:
    """Without rights in `.swathbook` files are registered all the same, and it is said once."""
    (lent.job / "swathbook.sqlite").chmod(0o666)
    lent.job.chmod(0o777)
    lent.write("more/open.txt", b"open")
    scratch = lent.job / ".swathbook"
    scratch.mkdir(exist_ok=True)
    scratch.chmod(0o555)
    with as_nobody():
        ran = lent.run("register", "more")
    assert (ran.status, ran.err) == (0, "")
    assert " ".join(ran.out.split()).count("could not have gone on where it was") == 1


def test_a_file_that_may_not_be_read_is_a_finding(
    bench: JobBench, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Inside an audited folder it is a major finding, and the other file is read."""
    closed = bench.write("out/closed.las", b"LASF")
    bench.write("out/open.txt", b"open")
    really_open = os.open

    def refuse(path: str, flags: int, *rest: int, **more: int) -> int:
        if os.fspath(path) == str(closed):
            raise PermissionError(13, "Permission denied", path)
        return really_open(path, flags, *rest, **more)

    monkeypatch.setattr(os, "open", refuse)
    result = bench.ask("audit", "out", status=1)
    (finding,) = [
        f
        for f in result["findings"]
        if f["subject"] == "closed.las" and f["check"] == "file-readable"
    ]
    assert finding["grade"] == "major"
    assert "the system does not allow reading it" in finding["sentence"]
    assert result["files"] == 2
