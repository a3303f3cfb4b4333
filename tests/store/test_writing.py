"""Adding entries: what is stored, what is refused, and that it is all or nothing."""

from __future__ import annotations

import json
import os
import sqlite3
import zlib
from datetime import datetime, timedelta, timezone

import pytest

from ledger import merkle
from ledger.canonical import compute_digest, encode
from ledger.errors import BookError, BrokenBookError, BusyBookError, ContractError, NewerBookError
from ledger.model.ask import NoProgress
from ledger.model.entry import Draft, Kind
from ledger.store.connecting import connect
from ledger.store.holder import NOTE_NAME
from ledger.store.reading import Book
from ledger.store.schema import BOOK_NAME, SCRATCH_NAME, TRIGGERS
from ledger.store.writing import Addition, BookWriter, _lay_out, create_book, format_time

NOTE = Draft(Kind.RECHECK, {"book": "unbroken", "counts": {}})


def read_bodies(connection: sqlite3.Connection) -> list[bytes]:
    """Return the stored bodies in order."""
    return [row[0] for row in connection.execute("SELECT body FROM journal ORDER BY seq")]


def test_an_entry_gets_number_time_computer_and_root(writer):
    """The first entry is number 1 and states when, where and by whom it was made."""
    entry = writer.append(Draft("job", {"reference": "J-17"}, by="site engineer"))
    assert (entry.seq, entry.time, entry.machine) == (1, "2026-05-04T06:02:00Z", "0123abcd")
    assert (entry.kind, entry.version, entry.by) == ("job", 1, "site engineer")
    assert writer.entry(1) == entry
    assert writer.size == 1
    assert writer.root == entry.root


def test_a_body_is_canonical_json_of_the_whole_entry(story_writer, open_behind):
    """Every stored body is the RFC 8785 form of itself and holds exactly the documented keys."""
    for seq, body in enumerate(read_bodies(open_behind(story_writer.folder)), start=1):
        parts = json.loads(body)
        assert encode(parts) == body
        keys = {"blobs", "by", "kind", "machine", "seq", "time", "values", "version"}
        assert set(parts) == keys
        assert parts["seq"] == seq


def test_every_root_is_that_of_the_tree_over_the_stored_bytes(story_writer, open_behind):
    """The root beside each entry is the RFC 9162 root over the bodies up to it."""
    bodies = read_bodies(open_behind(story_writer.folder))
    for entry in story_writer.entries():
        leaves = [merkle.hash_leaf(body) for body in bodies[: entry.seq]]
        assert entry.root == merkle.compute_root(leaves)


def test_stored_nodes_prove_every_entry_and_every_earlier_book(story_writer, open_behind):
    """From the stored nodes, inclusion and consistency can be shown for any size."""
    bodies = read_bodies(open_behind(story_writer.folder))
    roots = {entry.seq: entry.root for entry in story_writer.entries()}
    size = story_writer.size
    for seq in range(1, size + 1):
        proof = merkle.compute_inclusion_proof(seq - 1, size, story_writer.node)
        leaf = merkle.hash_leaf(bodies[seq - 1])
        assert merkle.verify_inclusion(leaf, seq - 1, size, proof, roots[size])
        proof = merkle.compute_consistency_proof(seq, size, story_writer.node)
        assert merkle.verify_consistency(seq, roots[seq], size, roots[size], proof)


def test_the_book_gives_the_next_id(writer, samples):
    """Ids go on from the highest of their letter, whoever gave that one."""
    assert writer.append(Draft("flight", {"values": {}}), id_prefix="F").values["id"] == "F1"
    writer.append(Draft("flight", {"id": "F9", "values": {}}))
    assert writer.append(Draft("flight", {"values": {}}), id_prefix="F").values["id"] == "F10"
    run = samples["run"]("run", [])
    assert writer.append(run.draft, run.blobs, "R").values["id"] == "R1"


def test_a_blob_is_kept_once_and_named_by_both_digests(writer, open_behind):
    """The same content is stored once; each entry names content and stored bytes."""
    content = b"line\n" * 1000
    digest = compute_digest(content)
    for _ in range(2):
        writer.append(NOTE, (content, content))
    rows = open_behind(writer.folder).execute("SELECT sha256, bytes FROM blobs").fetchall()
    assert [row[0] for row in rows] == [digest]
    stored = rows[0][1]
    assert zlib.decompress(stored) == content
    assert len(stored) < len(content) / 10
    for body in read_bodies(open_behind(writer.folder)):
        named = {digest: {"bytes": len(content), "stored": compute_digest(stored)}}
        assert json.loads(body)["blobs"] == named
    assert writer.blob(digest) == content


def test_additions_are_stored_together_or_not_at_all(writer, open_behind):
    """When one of several entries is refused, neither it nor the others leave a trace."""
    writer.append(NOTE, (b"before",))
    with pytest.raises(ContractError):
        writer.append_all([Addition(NOTE, (b"blob",)), Addition(Draft("run", {"id": 1.5}))])
    assert writer.size == 1
    tables = open_behind(writer.folder)
    assert tables.execute("SELECT count(*) FROM blobs").fetchone() == (1,)
    state = writer.check(NoProgress())
    assert (state.unbroken, state.derived_difference) == (True, "")
    several = writer.append_all([Addition(NOTE, (b"blob",)), Addition(NOTE)])
    assert [entry.seq for entry in several] == [2, 3]


@pytest.mark.parametrize(
    "draft",
    [
        Draft("run", {"values": {}}),
        Draft("run", {"id": "R1", "values": {"run.crs": "EPSG:6346"}}),
        Draft("run", {"id": "R1", "decision": "perhaps"}),
        Draft("run", {"id": "R1", "outputs": "00" * 32}),
        Draft("run", {"id": "R1", "inputs": ["F1"]}),
        Draft("decision", {"process": "R7", "decision": "accepted"}),
        Draft("files", {"flight": ""}),
        Draft("files", {"manifest": "00" * 32}),
        Draft("audit", {"manifest": "00" * 32}),
        Draft("acceptance", {}),
        Draft("flight", {"id": "F1", "values": {"flight.wind": {"value": "calm"}}}),
        Draft("job", {"size": 1.5}),
        Draft("withhold", {"blob": "00" * 32, "reason": ""}),
    ],
    ids=lambda draft: f"{draft.kind} {sorted(draft.values)}",
)
def test_values_that_do_not_fit_their_kind_are_refused(writer, draft):
    """An entry that could not be looked up later is refused and leaves no trace."""
    with pytest.raises(ContractError):
        writer.append(draft)
    assert writer.size == 0
    assert writer.check(NoProgress()).derived_difference == ""


def test_a_run_and_a_flight_cannot_share_an_id(writer, samples):
    """An id that names a run cannot name a step."""
    run = samples["run"]("run", [])
    writer.append(run.draft, run.blobs, "R")
    with pytest.raises(ContractError, match="R1 is a run, not a step"):
        writer.append(Draft("step", {"id": "R1", "values": {}}))


def test_a_known_kind_of_a_later_layout_is_refused(writer):
    """An entry whose layout this version does not know is not guessed at."""
    with pytest.raises(NewerBookError, match="layout 2"):
        writer.append(Draft("run", {"id": "R1"}, version=2))
    assert writer.append(Draft("weather", {"any": "thing"}, version=7)).seq == 1


def test_times_are_utc_in_whole_seconds():
    """A time of another zone is stored as UTC."""
    zone = timezone(timedelta(hours=-5))
    assert format_time(datetime(2026, 5, 4, 23, 0, 59, 999_999, zone)) == "2026-05-05T04:00:59Z"


# A book that is broken.


def drop_triggers(connection: sqlite3.Connection) -> None:
    """Take away what would refuse an alteration."""
    for name in TRIGGERS:
        connection.execute(f"DROP TRIGGER {name}")


@pytest.mark.parametrize(
    ("alteration", "found"),
    [
        ("UPDATE journal SET root = zeroblob(32) WHERE seq = 14", "broken at entry 14"),
        ("UPDATE journal SET body = body || ' ' WHERE seq = 14", "broken at entry 14"),
        ("UPDATE journal SET body = body || ' ' WHERE seq = 2", "broken at entry 2"),
        ("UPDATE journal SET body = CAST(body AS TEXT) WHERE seq = 3", "broken at entry 3"),
        ("DELETE FROM journal WHERE seq = 14", "entries 14 to 14 are missing"),
        ("DELETE FROM journal WHERE seq > 3", "entries 4 to 14 are missing"),
    ],
)
def test_nothing_is_added_to_a_broken_book(story_writer, open_behind, alteration, found):
    """After an alteration near the end the writer refuses, says where, and adds nothing."""
    tables = open_behind(story_writer.folder)
    drop_triggers(tables)
    tables.execute(alteration)
    before = tables.execute("SELECT seq, body, root FROM journal").fetchall()
    with pytest.raises(BrokenBookError, match=found):
        story_writer.append(NOTE)
    assert tables.execute("SELECT seq, body, root FROM journal").fetchall() == before


def test_a_broken_book_can_be_refused_before_long_work(story_writer, open_behind):
    """A command can ask whether an entry would be taken; asking enters nothing."""
    story_writer.require_sound()
    tables = open_behind(story_writer.folder)
    drop_triggers(tables)
    tables.execute("UPDATE journal SET body = body || ' ' WHERE seq = 14")
    with pytest.raises(BrokenBookError, match="broken at entry 14"):
        story_writer.require_sound()
    assert story_writer.size == 14


def test_an_old_alteration_is_found_by_the_writer_only_within_the_tail(writer, open_behind):
    """The writer hashes at most the last 15 bodies again; a check finds what lies further back."""
    for _ in range(40):
        writer.append(NOTE)
    tables = open_behind(writer.folder)
    drop_triggers(tables)
    tables.execute("UPDATE journal SET body = body || ' ' WHERE seq = 5")
    assert writer.append(NOTE).seq == 41
    state = writer.check(NoProgress())
    assert (state.unbroken, state.first_broken_entry) == (False, 5)


@pytest.mark.parametrize(
    "damage",
    [
        "UPDATE nodes SET hash = zeroblob(32)",
        "DELETE FROM nodes WHERE level > 0",
        "DROP TABLE files",
        "DELETE FROM derived",
        "UPDATE derived SET version = 0",
    ],
)
def test_damage_to_derived_tables_is_mended_by_the_next_entry(
    story_writer, open_behind, dump_derived, damage
):
    """Derived tables that do not fit are made anew, and the book goes on."""
    tables = open_behind(story_writer.folder)
    for _ in range(6):  # past 16 entries, so that stored nodes count
        story_writer.append(NOTE)
    tables.execute(damage)
    with BookWriter.open(story_writer.folder) as writer:
        assert writer.append(NOTE).seq == 21
        mended = dump_derived(tables)
        writer.rebuild()
        state = writer.check(NoProgress())
    assert dump_derived(tables) == mended
    assert (state.unbroken, state.derived_difference) == (True, "")


def test_a_writer_makes_missing_tables_anew_when_it_looks_something_up(story_folder, open_behind):
    """Looking up in a book without derived tables, a writer puts them back."""
    tables = open_behind(story_folder)
    tables.execute("DROP TABLE files")
    with BookWriter.open(story_folder) as writer:
        assert len(writer.files_of_flight("F1")) == 2
    assert tables.execute("SELECT count(*) FROM files").fetchone()[0] > 0


def test_missing_triggers_are_laid_again(story_writer, open_behind):
    """A book that lost its triggers has them again after the next entry."""
    tables = open_behind(story_writer.folder)
    drop_triggers(tables)
    story_writer.append(NOTE)
    found = {
        row[0] for row in tables.execute("SELECT name FROM sqlite_master WHERE type='trigger'")
    }
    assert found == set(TRIGGERS)


# Withholding.


def test_a_withheld_blob_is_gone_and_the_book_unbroken(story_writer, open_behind, story):
    """After a withhold entry the content is gone from the file, and every check still holds."""
    text = story[1].blobs[0]
    digest = compute_digest(text)
    stored = zlib.compress(text, 6)
    assert stored in (story_writer.path).read_bytes()
    entry = story_writer.withhold(digest, "it held a password")
    assert entry.values == {"blob": digest, "reason": "it held a password"}
    assert stored not in story_writer.path.read_bytes()
    with pytest.raises(BookError, match="withheld by entry 15"):
        story_writer.blob(digest)
    with pytest.raises(BookError, match="withheld by entry 15"):
        story_writer.withhold(digest, "again")
    state = story_writer.check(NoProgress())
    assert (state.unbroken, state.derived_difference) == (True, "")


def test_a_withheld_list_takes_its_rows_with_it(story_writer, story, samples):
    """Files of a withheld manifest are no longer found, and the tables equal rebuilt ones."""
    raw = samples["digest"]("raw/F1/scan.bin")
    assert len(story_writer.files_of_flight("F1")) == 2
    story_writer.withhold(compute_digest(story[4].blobs[0]), "a name in a path")
    assert story_writer.files_of_flight("F1") == ()
    assert [use.relation for use in story_writer.uses(raw)] == ["seen"]
    assert story_writer.check(NoProgress()).derived_difference == ""


def test_withheld_content_is_not_stored_again(story_writer, open_behind, story):
    """Entering withheld content again names it and leaves it out."""
    text = story[1].blobs[0]
    story_writer.withhold(compute_digest(text), "it held a password")
    story_writer.append(story[1].draft, (text,))
    count = "SELECT count(*) FROM blobs WHERE sha256 = ?"
    found = open_behind(story_writer.folder).execute(count, (compute_digest(text),))
    assert found.fetchone() == (0,)
    state = story_writer.check(NoProgress())
    assert (state.unbroken, state.derived_difference) == (True, "")


def test_what_the_book_does_not_hold_cannot_be_withheld(story_writer):
    """Withholding unknown content is refused and enters nothing."""
    with pytest.raises(BookError, match="no such content"):
        story_writer.withhold("00" * 32, "")
    assert story_writer.size == 14


# Another program.


def test_a_busy_book_is_named_with_its_holder(writer, open_behind):
    """While another writer holds the book, the error says which process on which computer."""
    other = open_behind(writer.folder)
    other.execute("BEGIN IMMEDIATE")
    note = writer.folder / SCRATCH_NAME / NOTE_NAME
    note.parent.mkdir(exist_ok=True)
    note.write_text('{"machine": "beef0001", "process": 1, "since": "2026-05-04T06:00:00Z"}')
    waiting = BookWriter.open(writer.folder, wait_s=0.05)
    with waiting, pytest.raises(BusyBookError) as caught:
        waiting.append(NOTE)
    assert "process 1 on computer beef0001, since 2026-05-04T06:00:00Z" in str(caught.value)
    assert "\n" not in str(caught.value)
    other.execute("ROLLBACK")


def test_a_holder_without_a_note_is_said_so(writer, open_behind):
    """A program that leaves no note is called just that."""
    other = open_behind(writer.folder)
    other.execute("BEGIN EXCLUSIVE")
    with pytest.raises(BusyBookError, match="held by another program"):
        BookWriter.open(writer.folder, wait_s=0.05)
    other.execute("ROLLBACK")


def test_a_reader_that_does_not_let_go_stops_the_commit(writer, open_behind):
    """When a reading program blocks the commit, the entry is undone and the reader is blamed."""
    other = open_behind(writer.folder)
    with BookWriter.open(writer.folder, wait_s=0.05) as waiting:
        waiting.append(NOTE)
        other.execute("BEGIN")
        other.execute("SELECT * FROM journal").fetchall()
        with pytest.raises(BusyBookError, match="found a program that reads it"):
            waiting.append(NOTE)
        other.execute("ROLLBACK")
        assert waiting.append(NOTE).seq == 2


def test_the_note_lies_there_only_while_the_book_is_held(writer, monkeypatch):
    """During a transaction the note names this process; afterwards it is gone."""
    note = writer.folder / SCRATCH_NAME / NOTE_NAME
    seen = []

    def look(*_: object) -> merkle.Frontier:
        seen.append(json.loads(note.read_text()))
        return merkle.Frontier()

    monkeypatch.setattr("ledger.store.writing.require_sound", look)
    writer.append(NOTE)
    assert seen[0]["machine"] == "0123abcd"
    assert not note.exists()


def test_an_interrupted_addition_leaves_nothing(writer, monkeypatch):
    """An interrupt between storing and committing undoes the whole entry."""

    def interrupt(*_):
        raise KeyboardInterrupt

    monkeypatch.setattr("ledger.store.derive.add_page", interrupt)
    with pytest.raises(KeyboardInterrupt):
        writer.append(NOTE, (b"blob",))
    monkeypatch.undo()
    assert writer.size == 0
    assert writer.append(NOTE, (b"blob",)).seq == 1


def test_a_full_medium_is_one_line_and_leaves_the_book_as_it_was(writer):
    """When there is no room, nothing is stored and the error says so."""
    writer.append(NOTE)
    pages = writer._connection.execute("PRAGMA page_count").fetchone()[0]
    writer._connection.execute(f"PRAGMA max_page_count = {pages}")
    with pytest.raises(BookError, match="no room left") as caught:
        writer.append(NOTE, (bytes(range(256)) * 400 + os.urandom(40_000),))
    assert "\n" not in str(caught.value)
    writer._connection.execute("PRAGMA max_page_count = 1000000")
    state = writer.check(NoProgress())
    assert (state.unbroken, state.entries, state.derived_difference) == (True, 1, "")


def test_damaged_pages_are_one_line(story_folder):
    """Where pages of the file are damaged, writing is refused in one line."""
    path = story_folder / BOOK_NAME
    content = path.read_bytes()
    path.write_bytes(content[:8192] + b"\xff" * (len(content) - 8192))
    with pytest.raises(BrokenBookError, match="damaged") as caught:
        BookWriter.open(story_folder)
    assert "\n" not in str(caught.value)


# Beginning a book.


def test_a_book_is_begun_once(tmp_path):
    """A second book in the same folder is refused, and the first one stays."""
    create_book(tmp_path).close()
    with pytest.raises(BookError, match="already"):
        create_book(tmp_path)
    with BookWriter.open(tmp_path) as writer:
        assert (writer.size, writer.root) == (0, merkle.EMPTY_ROOT)


def test_two_starts_at_once_make_one_book(tmp_path):
    """A start that finds a book inside its own transaction leaves that book as it is."""
    create_book(tmp_path, machine="0123abcd").close()
    connection = connect(tmp_path / BOOK_NAME, "rwc", 1.0)
    with pytest.raises(BookError, match="already"):
        _lay_out(connection, tmp_path / BOOK_NAME)
    connection.close()
    with BookWriter.open(tmp_path) as writer:
        assert writer.append(NOTE).seq == 1


def test_an_empty_file_left_by_an_interrupted_start_is_taken_over(tmp_path):
    """A start that was killed before its first commit can be tried again."""
    (tmp_path / BOOK_NAME).touch()
    with create_book(tmp_path) as writer:
        assert writer.append(NOTE).seq == 1


def test_a_folder_that_is_not_there_is_one_line(tmp_path):
    """Beginning a book in a missing folder is an error of one line."""
    with pytest.raises(BookError) as caught:
        create_book(tmp_path / "missing")
    assert "\n" not in str(caught.value)


def test_the_book_waits_for_the_medium(writer):
    """Commits wait for the medium, for the end of the rollback journal too; it is gone at close."""
    connection = writer._connection
    assert connection.execute("PRAGMA journal_mode").fetchone() == ("truncate",)
    assert connection.execute("PRAGMA synchronous").fetchone() == (2,)  # FULL
    writer.append(NOTE)
    assert (writer.folder / f"{BOOK_NAME}-journal").stat().st_size == 0
    writer.close()
    assert sorted(path.name for path in writer.folder.iterdir()) == [SCRATCH_NAME, BOOK_NAME]


def test_an_empty_journal_left_by_a_killed_writer_does_no_harm(story_folder):
    """A rollback journal without content is read past, and goes with the next writer."""
    journal = story_folder / f"{BOOK_NAME}-journal"
    journal.touch()
    with Book.open(story_folder) as book:
        assert book.check(NoProgress()).unbroken
    with BookWriter.open(story_folder) as writer:
        assert writer.append(NOTE).seq == 15
    assert not journal.exists()


def test_a_writer_leaves_the_journal_of_another_alone(writer, open_behind):
    """Closing one writer while another one is half-way takes nothing from that one."""
    other = BookWriter.open(writer.folder, wait_s=0.05)
    with writer._adding() as frontier:
        writer._add(Addition(NOTE, (b"blob",)), (), frontier)
        other.close()
        writer._store_rows()
        journal = writer.folder / f"{BOOK_NAME}-journal"
        assert journal.stat().st_size > 0
    assert writer.check(NoProgress()).unbroken
    assert writer.size == 1
