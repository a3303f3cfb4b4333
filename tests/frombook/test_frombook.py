"""Two computers go on from one book; one takes over what the other entered, under its root."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest
from click.testing import CliRunner

from ledger.canonical import decode
from ledger.cli.frame import swathbook
from ledger.compare import compare_runs
from ledger.errors import BookError, UsageError
from ledger.forks import Fork, find_fork
from ledger.frombook import register_book
from ledger.merkle import Frontier, hash_leaf
from ledger.model.ask import NobodyToAsk, NoProgress
from ledger.model.entry import Draft, Kind
from ledger.model.process import Decision
from ledger.record.run import RunOptions, record_run
from ledger.register import RegisterOptions, register_paths
from ledger.store.reading import Book
from ledger.store.writing import BookWriter
from ledger.testing import BookBuilder
from ledger.testing.books import known


def begin(folder):
    """Make a job with a flight and a run."""
    book = BookBuilder(folder)
    book.writer.append(Draft(Kind.JOB, {"reference": "QM-0412", "title": "", "like": ""}))
    book.write("raw/cap.bin", "bytes")
    book.register("raw/cap.bin", flight="F1")
    book.card("flight", "F1", {"flight.mount_mode": known("drone")})
    book.write("out/a.las", "a")
    book.run("out/a.las", inputs=[{"flight": "F1"}], decision="undecided")
    book.close()
    return folder


def add(folder, *entries):
    """Append entries to the book in a folder, as another computer."""
    with BookWriter.open(folder, machine="there") as writer:
        for kind, values, prefix in entries:
            writer.append(Draft(kind, values), id_prefix=prefix)


def fly(name):
    """Return the entry of a flight."""
    return (Kind.FLIGHT, {"name": name, "values": {}}, "F")


def process(flight):
    """Return the entry of a run on a flight."""
    values = {"name": "", "values": {}, "inputs": [{"flight": flight}], "outputs": "",
              "output_count": 0, "decision": "accepted", "reason": "", "left_out": []}  # fmt: skip
    return (Kind.RUN, values, "R")


def decide(run, decision):
    """Return the entry of a decision."""
    return (Kind.DECISION, {"process": run, "decision": decision, "reason": "seen there"}, "")


@pytest.fixture
def pair(tmp_path):
    """Return two folders with one book."""
    here = begin(tmp_path / "here")
    there = tmp_path / "there"
    shutil.copytree(here, there)
    return here, there


def take(pair: tuple[Path, Path]):
    """Take over what is new in the other book."""
    return register_book(*pair, NoProgress())


def test_a_book_that_went_on_on_two_computers_is_forked_at_its_last_common_entry(pair):
    """The roots say so, whatever the files are called."""
    here, there = pair
    add(here, fly("here"))
    add(there, fly("there"), process("F2"))
    with Book.open(here) as one, Book.open(there) as other:
        fork = find_fork(one, other)
        assert fork == Fork(4, 1, 2)
        assert find_fork(other, one) == Fork(4, 2, 1)
        assert fork.is_forked
        assert find_fork(one, one) == Fork(5, 0, 0)


def test_records_of_the_other_book_get_the_next_free_ids(pair):
    """Its F2 and R2 are others than those of this book, and its run keeps its flight."""
    here, there = pair
    add(here, fly("here"), process("F2"))
    add(there, fly("there"), process("F2"))
    result = take(pair)
    assert result.ids == {"F2": "F3", "R2": "R3"}
    with Book.open(here) as book:
        assert [card.name for card in book.cards("flight")] == ["", "here", "there"]
        run = book.process("R3")
        assert run is not None
        assert [used.flight for used in run.inputs] == ["F3"]
        entry = book.entry(run.entry)
    assert entry is not None
    assert entry.values["foreign"]["entry"] == 6
    assert entry.values["foreign"]["machine"] == "there"


def test_the_other_entries_are_kept_as_leaves_of_their_own_root(pair):
    """Their bytes, after the common entries, give the root that the other book had (RFC 9162)."""
    here, there = pair
    add(here, fly("here"))
    add(there, fly("there"), (Kind.RECHECK, {"counts": {}, "book": "unbroken", "files": ""}, ""))
    result = take(pair)
    assert (result.taken, result.left) == (1, 1)
    frontier = Frontier()
    with Book.open(here) as book:
        entry = book.entry(result.entry)
        assert entry is not None
        for number, body in enumerate(book.bodies()):
            if number < result.fork.common:
                frontier.append(hash_leaf(body))
        kept = decode(book.blob(entry.values["entries"]))
    for body in kept:
        frontier.append(hash_leaf(body.encode()))
    with Book.open(there) as other:
        assert frontier.root() == other.root
        assert entry.values["root"] == other.root.hex()


def test_a_decision_on_a_common_run_is_taken_over(pair):
    """Where this book said nothing, the other's word counts."""
    here, there = pair
    add(here, fly("here"))
    add(there, decide("R1", "rejected"))
    assert take(pair).conflicts == ()
    with Book.open(here) as book:
        run = book.process("R1")
    assert run is not None
    assert run.decision is Decision.REJECTED


def test_two_decisions_on_one_run_are_left_to_a_person(pair):
    """Neither computer overrules the other in silence."""
    here, there = pair
    add(here, decide("R1", "accepted"))
    add(there, decide("R1", "rejected"))
    (conflict,) = take(pair).conflicts
    assert (conflict.record, conflict.text) == ("R1", "rejected")
    with Book.open(here) as book:
        run = book.process("R1")
    assert run is not None
    assert run.decision is Decision.ACCEPTED


def test_what_a_program_wrote_comes_along(pair):
    """The settings that stood beside a run there are held against those of a run here."""
    for folder, gate in zip(pair, (90, 80), strict=True):
        for path, text in (("out/new/dtm.tif", f"{gate}"), ("cfg.json", f'{{"gate": {gate}}}')):
            (folder / path).parent.mkdir(parents=True, exist_ok=True)
            (folder / path).write_text(text, encoding="utf-8")
        command = ["--job", str(folder), "record", str(folder / "out/new"), "--set", "version=1"]
        done = CliRunner().invoke(swathbook, [*command, "--settings", str(folder / "cfg.json")])
        assert done.exit_code == 0, done.output
    assert take(pair).ids == {"R2": "R3"}
    shutil.rmtree(pair[1])
    (differs,) = compare_runs(pair[0], "R2", "R3").written
    assert (differs.key, differs.before, differs.after) == ("gate", "90", "80")
    with Book.open(pair[0]) as book:
        assert book.check(NoProgress()).unbroken


def read_kept(book):
    """Return the digests that entries of a book speak of, and read each."""
    kept = [
        entry.values[name]
        for entry in book.entries()
        for name in ("manifest", "left_out")
        if isinstance(entry.values.get(name), str) and entry.values[name]
    ]
    kept += [
        read["settings"] for entry in book.entries() for read in entry.values.get("settings", ())
    ]
    return {digest: book.blob(digest) for digest in kept}


def test_settings_that_a_run_read_there_come_along(pair):
    """The flat settings that a run was made with are kept here too, secrets taken out."""
    here, there = pair
    add(here, fly("here"))
    (there / "out" / "b.las").write_bytes(b"b")
    (there / "b.json").write_text(
        '{"mount": "hand", "password": "Zx9-kw!7Qp", "speed": "4.5"}', encoding="utf-8"
    )
    options = RunOptions(
        paths=(there / "out" / "b.las",),
        settings=(there / "b.json",),
        map_rows=("mount_mode=mount",),
    )
    record_run(there, options, NobodyToAsk(), NoProgress())
    take(pair)
    with Book.open(here) as book:
        run = book.processes()[-1]
        assert run.id == "R2"
        assert run.values["run.mount_mode"].value == "hand"
        kept = b"".join(read_kept(book).values())
    assert b"speed" in kept
    assert b"Zx9" not in kept


def test_what_a_register_left_out_there_is_known_here(pair):
    """The list of paths that could not be read comes along, and the job can still be looked at."""
    here, there = pair
    add(here, fly("here"))
    (there / "raw" / "new.bin").write_bytes(b"new")
    (there / "raw" / "dead.bin").symlink_to(there / "nowhere")
    register_paths(there, [there / "raw"], RegisterOptions(flight="F2"), NoProgress())
    take(pair)
    with Book.open(here) as book:
        assert any(b"dead.bin" in content for content in read_kept(book).values())
    result = CliRunner().invoke(swathbook, ["--job", str(here)])
    assert result.exit_code == 0, result.output


def test_what_was_taken_over_once_is_not_taken_twice(pair):
    """A second call takes what is new since, with the ids of the first."""
    here, there = pair
    add(here, fly("here"))
    add(there, fly("there"))
    assert take(pair).ids == {"F2": "F3"}
    with Book.open(here) as book:
        size = book.size
    words = ["--job", str(here), "register", "--from-book", str(there)]
    again = CliRunner().invoke(swathbook, words)
    assert again.exit_code == 0, again.output
    assert "The other book holds nothing new; nothing was entered." in again.output
    with Book.open(here) as book:
        assert book.size == size
    add(there, process("F2"))
    second = take(pair)
    assert second.taken == 1
    with Book.open(here) as book:
        run = book.process(second.ids["R2"])
        assert run is not None
        assert [used.flight for used in run.inputs] == ["F3"]
        assert book.check(NoProgress()).unbroken


def test_a_book_that_only_goes_on_is_not_merged(pair):
    """Nothing is forked: the longer book is the book."""
    add(pair[1], fly("there"))
    with pytest.raises(UsageError, match="goes on from this one by 1"):
        take(pair)
    behind = register_book(pair[1], pair[0], NoProgress())
    assert (behind.entry, behind.taken) == (0, 0)


def test_another_job_a_broken_book_and_this_very_book_are_refused(pair, tmp_path):
    """One line each, and nothing is entered."""
    here, there = pair
    add(here, fly("here"))
    add(there, fly("there"))
    with Book.open(here) as book:
        before = book.size
    with pytest.raises(UsageError, match="this very book"):
        register_book(here, here / "swathbook.sqlite", NoProgress())
    other = BookBuilder(tmp_path / "other")
    other.writer.append(Draft(Kind.JOB, {"reference": "XY-1", "title": "", "like": ""}))
    other.close()
    with pytest.raises(UsageError, match="another job"):
        register_book(here, other.folder, NoProgress())
    with BookWriter.open(there) as writer:
        writer._connection.execute("DROP TRIGGER IF EXISTS journal_keeps_rows")
        for (name,) in writer._connection.execute(
            "SELECT name FROM sqlite_master WHERE type = 'trigger'"
        ).fetchall():
            writer._connection.execute(f"DROP TRIGGER {name}")
        writer._connection.execute("UPDATE journal SET body = replace(body, 'there', 'their')")
    with pytest.raises(BookError, match="broken"):
        register_book(here, there, NoProgress())
    with Book.open(here) as book:
        assert book.size == before


def test_screen_and_json(pair):
    """The command says where the books part and what the records are called here."""
    here, there = pair
    add(here, fly("here"))
    add(there, fly("there"))
    copy = there.parent / "again"
    shutil.copytree(here, copy)
    runner = CliRunner()
    shown = runner.invoke(swathbook, ["--job", str(here), "register", "--from-book", str(there)])
    assert shown.exit_code == 0, shown.output
    assert "part after entry 4" in shown.output
    assert "F2 is F3 here" in shown.output
    arguments = ["--job", str(copy), "register", "--from-book", str(there), "--json"]
    assert json.loads(runner.invoke(swathbook, arguments).output)["ids"] == {"F2": "F3"}


@pytest.mark.parametrize("arguments", [[], ["raw", "--from-book", "x"]])
def test_files_and_a_book_are_registered_one_at_a_time(pair, arguments):
    """Neither is no wish at all."""
    shown = CliRunner().invoke(swathbook, ["--job", str(pair[0]), "register", *arguments])
    assert isinstance(shown.exception, UsageError)
