"""The check of a book: any changed byte, any missing, swapped or added row is found."""

from __future__ import annotations

import random
import sqlite3
import zlib
from collections import Counter
from typing import Any

import pytest

from ledger.canonical import compute_digest, encode
from ledger.errors import BrokenBookError, SwathbookError
from ledger.merkle import Frontier, hash_leaf
from ledger.model.ask import NoProgress
from ledger.model.entry import Draft, Kind
from ledger.store.reading import Book
from ledger.store.schema import BOOK_NAME, TRIGGERS
from ledger.store.writing import BookWriter, create_book


class Counting(NoProgress):
    """Keeps what it was told."""

    def __init__(self):
        self.total = self.done = 0

    def start(self, label, total, unit):
        """Keep the total."""
        self.total = total
        assert unit == "bytes"

    def advance(self, amount):
        """Add what is done."""
        self.done += amount


@pytest.fixture
def forger(story_folder, open_behind):
    """Give the tables of a whole book to somebody who has taken away the triggers."""
    connection = open_behind(story_folder)
    for name in TRIGGERS:
        connection.execute(f"DROP TRIGGER {name}")
    return connection


def check(folder):
    """Return the state of the book in a folder."""
    with Book.open(folder) as book:
        return book.check(NoProgress())


def find_naming_entry(folder, sha256: str) -> int:
    """Return the first entry that names a blob."""
    with Book.open(folder) as book:
        rows = book._fetch("SELECT seq, body FROM journal ORDER BY seq")
    return next(seq for seq, body in rows if sha256.encode() in body)


def test_an_untouched_book_is_unbroken(story_folder):
    """A book that nobody touched is unbroken, and progress comes to its total."""
    progress = Counting()
    with Book.open(story_folder) as book:
        state = book.check(progress)
        assert (state.entries, state.root) == (book.size, book.root)
    assert (state.unbroken, state.first_broken_entry) == (True, None)
    assert state.sentence == "the book is unbroken: 14 entries"
    assert progress.done == progress.total > 0


def test_an_empty_book_is_unbroken(writer):
    """A book without entries is unbroken."""
    assert writer.check(NoProgress()).sentence == "the book is unbroken: 0 entries"


def make_small_book(folder) -> None:
    """Make a book of four entries with two blobs."""
    with create_book(folder, machine="0123abcd") as book:
        book.append(Draft(Kind.JOB, {"reference": "J", "title": "", "like": ""}))
        text = b"[job]\n"
        values = {"sha256": compute_digest(text), "bytes": len(text)}
        book.append(Draft(Kind.SPECIFICATION, values), (text,))
        book.append(Draft("note", {}), (text, b"second"))
        book.append(Draft("note", {"text": "\u00e4"}))


def list_cells(folder, tables):
    """Return every stored value with how to set it, and the entry that answers for it."""
    cells = []
    for seq, body, root in tables.execute("SELECT seq, body, root FROM journal").fetchall():
        cells.append(("UPDATE journal SET body = ? WHERE seq = ?", seq, seq, body))
        cells.append(("UPDATE journal SET root = ? WHERE seq = ?", seq, seq, root))
    for row, name, stored in tables.execute("SELECT rowid, sha256, bytes FROM blobs").fetchall():
        entry = find_naming_entry(folder, name)
        cells.append(("UPDATE blobs SET sha256 = ? WHERE rowid = ?", row, entry, name))
        cells.append(("UPDATE blobs SET bytes = ? WHERE rowid = ?", row, entry, stored))
    return cells


def flip_bits(value):
    """Yield the value with each of its bits changed in turn; text stays ASCII."""
    raw = value.encode("ascii") if isinstance(value, str) else value
    for place in range(len(raw)):
        for bit in range(7 if isinstance(value, str) else 8):
            other = bytearray(raw)
            other[place] ^= 1 << bit
            yield other.decode("ascii") if isinstance(value, str) else bytes(other)


def test_every_changed_bit_of_every_row_is_found_at_its_entry(tmp_path, open_behind):
    """Each bit of every body, root, blob and blob name is changed in turn; each is found.

    The entry named is the one whose body or root it is, or the first one that names the blob.
    """
    make_small_book(tmp_path)
    tables = open_behind(tmp_path)
    for name in TRIGGERS:
        tables.execute(f"DROP TRIGGER {name}")
    cells = list_cells(tmp_path, tables)
    changed = 0
    with Book.open(tmp_path) as book:
        for statement, row, entry, value in cells:
            for other in flip_bits(value):
                tables.execute(statement, (other, row))
                state = book.check(NoProgress())
                assert (state.unbroken, state.first_broken_entry) == (False, entry), statement
                changed += 1
            tables.execute(statement, (value, row))
        assert book.check(NoProgress()).unbroken
    assert changed > 8000


@pytest.mark.parametrize(
    ("statement", "entry"),
    [
        ("DELETE FROM journal WHERE seq = 1", 1),
        ("DELETE FROM journal WHERE seq = 7", 7),
        ("DELETE FROM journal WHERE seq > 12", 13),
        ("UPDATE journal SET seq = 99 WHERE seq = 5", 5),
        ("UPDATE journal SET seq = -1 WHERE seq = 1", 1),
        ("UPDATE journal SET seq = 15 WHERE seq = 14", 14),
        ("INSERT INTO journal SELECT 0, body, root FROM journal WHERE seq = 1", 1),
        ("INSERT INTO journal SELECT 15, body, root FROM journal WHERE seq = 14", 15),
        ("UPDATE journal SET body = CAST(body AS TEXT) WHERE seq = 4", 4),
        ("UPDATE journal SET root = hex(root) WHERE seq = 4", 4),
        ("UPDATE journal SET body = CAST(body || x'ff' AS TEXT) WHERE seq = 4", 4),
        ("UPDATE journal SET body = x'' WHERE seq = 4", 4),
        ("UPDATE journal SET root = substr(root, 1, 31) WHERE seq = 4", 4),
        ("UPDATE journal SET body = body || x'20' WHERE seq = 4", 4),
        ("INSERT INTO blobs VALUES ('ff', x'00')", None),
    ],
)
def test_missing_moved_and_added_rows_are_found(story_folder, forger, statement, entry):
    """Rows that were taken away, renumbered, retyped or added are found where they begin."""
    forger.execute(statement)
    state = check(story_folder)
    assert (state.unbroken, state.first_broken_entry) == (False, entry)
    assert state.sentence.startswith("the book is broken")


@pytest.mark.parametrize("kept", [1, 3, 13])
def test_entries_that_were_cut_off_are_told_by_their_numbers(story_folder, forger, kept):
    """From the first that is missing to the last that the derived tables know."""
    forger.execute("DELETE FROM journal WHERE seq > ?", (kept,))
    assert f"entries {kept + 1} to 14 are missing" in check(story_folder).sentence


@pytest.mark.parametrize("second", range(2, 15))
def test_swapped_rows_are_found(story_folder, forger, second):
    """Two entries in each other's place are found at the first of them."""
    first = second // 2
    rows = {
        row[0]: row[1:] for row in forger.execute("SELECT seq, body, root FROM journal").fetchall()
    }
    for here, there in ((first, second), (second, first)):
        forger.execute("UPDATE journal SET body = ?, root = ? WHERE seq = ?", (*rows[there], here))
    state = check(story_folder)
    assert (state.unbroken, state.first_broken_entry) == (False, first)


def test_swapped_and_missing_blobs_are_found(story_folder, forger):
    """Contents in each other's place, and contents that are gone, are found."""
    rows = forger.execute("SELECT sha256, bytes FROM blobs ORDER BY rowid").fetchall()
    first = find_naming_entry(story_folder, rows[0][0])
    for here, there in ((0, 3), (3, 0)):
        forger.execute(
            "UPDATE blobs SET bytes = ? WHERE sha256 = ?", (rows[there][1], rows[here][0])
        )
    assert check(story_folder).first_broken_entry == first
    forger.execute("UPDATE blobs SET bytes = ? WHERE sha256 = ?", rows[0][::-1])
    forger.execute("UPDATE blobs SET bytes = ? WHERE sha256 = ?", rows[3][::-1])
    assert check(story_folder).unbroken
    forger.execute("DELETE FROM blobs WHERE sha256 = ?", (rows[3][0],))
    state = check(story_folder)
    assert state.first_broken_entry == find_naming_entry(story_folder, rows[3][0])
    assert "is missing" in state.sentence


def test_a_blob_compressed_anew_is_found(story_folder, forger):
    """The same content in other compressed bytes is not what was stored."""
    sha256, stored = forger.execute("SELECT sha256, bytes FROM blobs LIMIT 1").fetchone()
    again = zlib.compress(zlib.decompress(stored), 1)
    forger.execute("UPDATE blobs SET bytes = ? WHERE sha256 = ?", (again, sha256))
    assert again != stored
    assert check(story_folder).first_broken_entry == find_naming_entry(story_folder, sha256)


def test_one_entry_rewritten_with_its_root_is_found_at_the_next(story_folder, forger):
    """Whoever also forges the root of an entry has to forge every later one."""
    bodies = [row[0] for row in forger.execute("SELECT body FROM journal ORDER BY seq")]
    bodies[4] = bodies[4].replace(b"technician", b"technicien")
    root = _compute_root(bodies[:5])
    forger.execute("UPDATE journal SET body = ?, root = ? WHERE seq = 5", (bodies[4], root))
    assert check(story_folder).first_broken_entry == 6


def test_a_book_rewritten_to_its_end_shows_only_against_a_root_kept_elsewhere(story_folder, forger):
    """The limit of the claim: a wholly rewritten end is consistent in itself, with another root."""
    with Book.open(story_folder) as book:
        kept = book.root
    bodies = [row[0] for row in forger.execute("SELECT body FROM journal ORDER BY seq")]
    bodies[4] = bodies[4].replace(b"technician", b"technicien")
    for seq in range(5, len(bodies) + 1):
        forger.execute(
            "UPDATE journal SET body = ?, root = ? WHERE seq = ?",
            (bodies[seq - 1], _compute_root(bodies[:seq]), seq),
        )
    state = check(story_folder)
    assert state.unbroken
    assert state.root != kept


def test_an_end_cut_off_with_all_its_traces_shows_only_against_a_root_kept_elsewhere(
    story_folder, forger
):
    """The limit of the claim: entries cut off together with derived rows leave a whole book."""
    forger.execute("DELETE FROM journal WHERE seq > 13")
    sha256, _ = forger.execute("SELECT sha256, rowid FROM blobs ORDER BY rowid DESC").fetchone()
    assert find_naming_entry(story_folder, sha256) <= 13 or forger.execute(
        "DELETE FROM blobs WHERE sha256 = ?", (sha256,)
    )
    assert check(story_folder).first_broken_entry == 14  # the derived tables still know it
    forger.execute("DROP TABLE derived")
    assert check(story_folder).unbroken


def _compute_root(bodies: list[bytes]) -> bytes:
    frontier = Frontier()
    for body in bodies:
        frontier.append(hash_leaf(body))
    return frontier.root()


# Entries forged together with their root: the tree agrees, and something else does not.


def forge_entry(tables, **parts) -> None:
    """Add an entry with a right root behind the back of the writer."""
    bodies = [row[0] for row in tables.execute("SELECT body FROM journal ORDER BY seq")]
    usual: dict[str, Any] = {
        "blobs": {},
        "by": "technician",
        "kind": "note",
        "machine": "0",
        "values": {},
    }
    usual |= {"seq": len(bodies) + 1, "time": "2026-05-04T06:00:00Z", "version": 1}
    body = parts["body"] if "body" in parts else encode({**usual, **parts})
    root = _compute_root([*bodies, body])
    tables.execute("INSERT INTO journal VALUES (?, ?, ?)", (len(bodies) + 1, body, root))


@pytest.mark.parametrize(
    "parts",
    [
        {"seq": 4},
        {"body": b"{}"},
        {"body": b"no entry"},
        {"body": b'"kind":"withhold"'},
        {"blobs": {"00" * 32: {"bytes": 1, "stored": "00" * 32}}},
        {"blobs": {"00" * 32: {"bytes": -1, "stored": "00" * 32}}},
        {"blobs": []},
        {"values": None},
        {"kind": 3},
    ],
    ids=str,
)
def test_a_forged_entry_that_is_none_is_found(tmp_path, open_behind, parts):
    """A body that is no entry, has another number or names absent blobs is found by itself."""
    make_small_book(tmp_path)
    forge_entry(open_behind(tmp_path), **parts)
    state = check(tmp_path)
    assert (state.unbroken, state.first_broken_entry, state.entries) in (
        (False, 5, 4),
        (False, 5, 5),
    )


def test_an_entry_that_contradicts_an_earlier_one_about_a_blob_is_found(tmp_path, open_behind):
    """Two entries cannot state different stored bytes for one content."""
    make_small_book(tmp_path)
    tables = open_behind(tmp_path)
    (name,) = tables.execute("SELECT sha256 FROM blobs LIMIT 1").fetchone()
    forge_entry(tables, blobs={name: {"bytes": 6, "stored": "00" * 32}})
    state = check(tmp_path)
    assert state.first_broken_entry == 5
    assert "says otherwise" in state.sentence


def test_a_blob_under_a_false_name_is_found(tmp_path, open_behind):
    """Stored bytes that fit their entry and not the digest they are named for are found."""
    make_small_book(tmp_path)
    tables = open_behind(tmp_path)
    stored = zlib.compress(b"other content")
    tables.execute("INSERT INTO blobs VALUES (?, ?)", ("ab" * 32, stored))
    named = {"ab" * 32: {"bytes": 13, "stored": compute_digest(stored)}}
    forge_entry(tables, blobs=named)
    state = check(tmp_path)
    assert state.first_broken_entry == 5
    assert "content it is named for" in state.sentence


def test_words_of_a_withhold_entry_inside_another_withhold_nothing(tmp_path, open_behind):
    """Only the kind of an entry itself withholds; the same words among its values do not."""
    make_small_book(tmp_path)
    tables = open_behind(tmp_path)
    for name in TRIGGERS:
        tables.execute(f"DROP TRIGGER {name}")
    (name,) = tables.execute("SELECT sha256 FROM blobs ORDER BY rowid LIMIT 1").fetchone()
    forge_entry(tables, values={"blob": name, "kind": "withhold"})
    assert check(tmp_path).unbroken
    tables.execute("DELETE FROM blobs WHERE sha256 = ?", (name,))
    assert check(tmp_path).first_broken_entry == 2


def test_an_entry_that_cannot_be_laid_out_is_said(tmp_path, open_behind):
    """A run without an id fits the tree; what needs the derived tables names it and stops."""
    make_small_book(tmp_path)
    tables = open_behind(tmp_path)
    forge_entry(tables, kind="run")
    state = check(tmp_path)
    assert (state.unbroken, state.entries) == (True, 5)
    assert state.derived_difference
    with Book.open(tmp_path) as book:
        with pytest.raises(BrokenBookError, match="do not fit its kind, run"):
            book.processes()
        assert book.entry(5).kind == "run"
        assert not book._connection.in_transaction


@pytest.mark.parametrize(
    ("statement", "name"),
    [
        ("DROP TRIGGER journal_keeps_entries", "journal_keeps_entries"),
        (
            "DROP TRIGGER blobs_are_kept;"
            + TRIGGERS["blobs_are_kept"].replace("\nBEGIN", " WHEN 0\nBEGIN"),
            "blobs_are_kept",
        ),
        (
            "CREATE TRIGGER helpful AFTER INSERT ON journal BEGIN DELETE FROM acceptances; END",
            "helpful",
        ),
    ],
    ids=["dropped", "altered", "added"],
)
def test_triggers_that_are_not_ours_are_found_and_laid_anew(
    story_folder, open_behind, statement, name
):
    """A book without its lock is not broken; the lock is named, and a writer's check mends it."""
    open_behind(story_folder).executescript(statement)
    state = check(story_folder)
    assert (state.unbroken, state.derived_difference) == (True, name)
    assert f"has to be laid anew: {name}" in state.sentence
    with BookWriter.open(story_folder) as book:
        assert book.check(NoProgress()).derived_difference == name
    assert check(story_folder).derived_difference == ""


@pytest.mark.parametrize(
    ("statement", "table"),
    [
        ("UPDATE files SET sha256 = 'ff' WHERE entry = 5", "files"),
        ("UPDATE files SET owner = 'R2' WHERE owner = 'R1'", "files"),
        ("UPDATE processes SET decision = 'accepted'", "processes"),
        ("DELETE FROM recorded", "recorded"),
        ("INSERT INTO acceptances VALUES ('f', 3)", "acceptances"),
        ("DELETE FROM nodes WHERE level = 0", "nodes"),
        ("DROP TABLE cards", "derived"),
        ("INSERT INTO derived SELECT * FROM derived", "derived"),
        ("INSERT INTO nodes VALUES (40, 0, x'00')", "nodes"),
        ("INSERT INTO nodes VALUES (1, 0.5, x'00')", "nodes"),
        ("INSERT INTO nodes SELECT 0, 99, hash FROM nodes WHERE level = 0 LIMIT 1", "nodes"),
        ("UPDATE nodes SET hash = hex(hash) WHERE level = 2", "nodes"),
        ("UPDATE entries SET kind = 'withhold' WHERE seq = 3", "entries"),
        ("UPDATE entries SET kind = CAST(x'ff' AS TEXT) WHERE seq = 3", "entries"),
        ("INSERT INTO entries VALUES (99, 'job')", "entries"),
        ("DELETE FROM entries WHERE seq = 14", "entries"),
        ("UPDATE ids SET number = number + 1", "ids"),
        ("DELETE FROM blob_digests", "blob_digests"),
        ("INSERT INTO withheld VALUES ('ff', 3)", "withheld"),
        ("UPDATE files SET path = CAST(x'ff' AS TEXT) WHERE entry = 5", "files"),
        ("UPDATE inputs SET assumed = 1 - assumed", "inputs"),
        ("UPDATE fingerprints SET count = count + 1", "fingerprints"),
        ("DELETE FROM cards", "cards"),
    ],
)
def test_derived_tables_that_lie_are_found_and_made_anew(
    story_folder, open_behind, dump_derived, statement, table
):
    """A changed derived row does not break the book; it is named, and a writer's check mends it."""
    tables = open_behind(story_folder)
    right = dump_derived(tables)
    tables.execute(statement)
    state = check(story_folder)
    assert (state.unbroken, state.derived_difference) == (True, table)
    assert table in state.sentence
    with BookWriter.open(story_folder) as book:
        assert book.check(NoProgress()).derived_difference == table
    assert dump_derived(tables) == right
    assert check(story_folder).derived_difference == ""


def test_after_a_check_a_reader_believes_the_book_and_not_its_tables(story_folder, open_behind):
    """A reader that found lying tables answers from the journal, and writes nothing."""
    tables = open_behind(story_folder)
    tables.execute("UPDATE processes SET decision = 'accepted'")
    content = (story_folder / BOOK_NAME).read_bytes()
    with Book.open(story_folder) as book:
        assert book.process("R1").decision == "accepted"
        book.check(NoProgress())
        assert book.process("R1").decision == "rejected"
    assert (story_folder / BOOK_NAME).read_bytes() == content


def test_what_is_withheld_is_asked_of_the_journal_and_not_of_its_tables(story_folder, open_behind):
    """Tables that do not know a withheld blob lie; it is not missing for that."""
    tables = open_behind(story_folder)
    (sha256,) = tables.execute("SELECT sha256 FROM blobs ORDER BY rowid LIMIT 1").fetchone()
    with BookWriter.open(story_folder) as book:
        entry = book.withhold(sha256, "a name stands in it")
    assert check(story_folder).derived_difference == ""
    tables.execute("DELETE FROM entries WHERE seq = ?", (entry.seq,))
    state = check(story_folder)
    assert (state.unbroken, state.derived_difference) == (True, "entries")


def read_rows(folder):
    """Return every row of journal and blobs past any index, or the error in their place."""
    statements = "SELECT * FROM journal ORDER BY seq", "SELECT rowid, * FROM blobs NOT INDEXED"
    connection = sqlite3.connect(folder / BOOK_NAME)
    connection.text_factory = bytes
    try:
        return [connection.execute(statement).fetchall() for statement in statements]
    except sqlite3.Error as error:
        return error
    finally:
        connection.close()


def find_outcome(folder):
    """Return `unbroken`, `broken`, or the class of the error that a check ended with."""
    try:
        return "unbroken" if check(folder).unbroken else "broken"
    except SwathbookError as error:
        return type(error).__name__


def test_a_file_damaged_by_the_medium_is_never_called_unbroken(story_folder):
    """With noise over part of the file, a book is only unbroken where every row reads as before."""
    path = story_folder / BOOK_NAME
    content = path.read_bytes()
    rows = read_rows(story_folder)
    dice = random.Random(7)
    outcomes: Counter[str] = Counter()
    for _ in range(120):
        damaged = bytearray(content)
        start = dice.randrange(len(content) - 256)
        damaged[start : start + 256] = dice.randbytes(256)
        path.write_bytes(damaged)
        outcome = find_outcome(story_folder)
        assert outcome != "unbroken" or read_rows(story_folder) == rows
        outcomes[outcome] += 1
    assert outcomes["broken"] > 10
    assert outcomes["unbroken"] > 10  # noise in pages of derived tables or in unused ones


def test_sqlite_can_still_say_the_file_is_whole(story_folder, open_behind):
    """The file of a book is a sound SQLite file."""
    connection: sqlite3.Connection = open_behind(story_folder)
    assert connection.execute("PRAGMA integrity_check").fetchall() == [("ok",)]


def test_any_byte_changed_in_the_file_itself_is_found(tmp_path):
    """Behind SQLite's back: a name changed in its row alone leaves the index as it was."""
    make_small_book(tmp_path)
    path = tmp_path / BOOK_NAME
    whole, rows = path.read_bytes(), read_rows(tmp_path)
    texts = [value for table in rows for row in table for value in row if isinstance(value, bytes)]
    places = {
        place
        for text in texts
        for start in range(len(whole))
        if whole.startswith(text, start)
        for place in range(start, start + len(text), max(1, len(text) // 8))
    }
    changed = Counter[bool]()
    for place in sorted(places):
        path.write_bytes(whole[:place] + bytes([whole[place] ^ 1]) + whole[place + 1 :])
        touched = read_rows(tmp_path) != rows
        changed[touched] += 1
        if touched:
            assert not check(tmp_path).unbroken, place
    assert changed[True] > 100
    assert changed[False]  # the index holds names too, and is no row


def test_a_blob_renamed_in_its_row_is_laid_to_the_entry_that_names_it(tmp_path):
    """The index still finds it; the row says another name."""
    make_small_book(tmp_path)
    path = tmp_path / BOOK_NAME
    whole, (journal, blobs) = path.read_bytes(), read_rows(tmp_path)
    name = compute_digest(b"[job]\n").encode()
    starts = [start for start in range(len(whole)) if whole.startswith(name, start)]
    for start in starts:
        path.write_bytes(whole[:start] + b"x" + whole[start + 1 :])
        found = read_rows(tmp_path)
        if isinstance(found, list) and found[0] == journal and found[1] != blobs:
            state = check(tmp_path)
            assert (state.unbroken, state.first_broken_entry) == (False, 2)
            assert "another name" in state.sentence
            return
    pytest.fail("no such place in the file")
