"""The check of a book: any changed byte, any missing, swapped or added row is found."""

from __future__ import annotations

import zlib

import pytest
from checked_book import check_book, compute_root, find_naming_entry, make_small_book

from ledger.model.ask import NoProgress
from ledger.store.reading import Book
from ledger.store.schema import TRIGGERS


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
    state = check_book(story_folder)
    assert (state.unbroken, state.first_broken_entry) == (False, entry)
    assert state.sentence.startswith("the book is broken")


@pytest.mark.parametrize("kept", [1, 3, 13])
def test_entries_that_were_cut_off_are_told_by_their_numbers(story_folder, forger, kept):
    """From the first that is missing to the last that the derived tables know."""
    forger.execute("DELETE FROM journal WHERE seq > ?", (kept,))
    assert f"entries {kept + 1} to 14 are missing" in check_book(story_folder).sentence


@pytest.mark.parametrize("second", range(2, 15))
def test_swapped_rows_are_found(story_folder, forger, second):
    """Two entries in each other's place are found at the first of them."""
    first = second // 2
    rows = {
        row[0]: row[1:] for row in forger.execute("SELECT seq, body, root FROM journal").fetchall()
    }
    for here, there in ((first, second), (second, first)):
        forger.execute("UPDATE journal SET body = ?, root = ? WHERE seq = ?", (*rows[there], here))
    state = check_book(story_folder)
    assert (state.unbroken, state.first_broken_entry) == (False, first)


def test_swapped_and_missing_blobs_are_found(story_folder, forger):
    """Contents in each other's place, and contents that are gone, are found."""
    rows = forger.execute("SELECT sha256, bytes FROM blobs ORDER BY rowid").fetchall()
    first = find_naming_entry(story_folder, rows[0][0])
    for here, there in ((0, 3), (3, 0)):
        forger.execute(
            "UPDATE blobs SET bytes = ? WHERE sha256 = ?", (rows[there][1], rows[here][0])
        )
    assert check_book(story_folder).first_broken_entry == first
    forger.execute("UPDATE blobs SET bytes = ? WHERE sha256 = ?", rows[0][::-1])
    forger.execute("UPDATE blobs SET bytes = ? WHERE sha256 = ?", rows[3][::-1])
    assert check_book(story_folder).unbroken
    forger.execute("DELETE FROM blobs WHERE sha256 = ?", (rows[3][0],))
    state = check_book(story_folder)
    assert state.first_broken_entry == find_naming_entry(story_folder, rows[3][0])
    assert "is missing" in state.sentence


def test_a_blob_compressed_anew_is_found(story_folder, forger):
    """The same content in other compressed bytes is not what was stored."""
    sha256, stored = forger.execute("SELECT sha256, bytes FROM blobs LIMIT 1").fetchone()
    again = zlib.compress(zlib.decompress(stored), 1)
    forger.execute("UPDATE blobs SET bytes = ? WHERE sha256 = ?", (again, sha256))
    assert again != stored
    assert check_book(story_folder).first_broken_entry == find_naming_entry(story_folder, sha256)


def test_one_entry_rewritten_with_its_root_is_found_at_the_next(story_folder, forger):
    """Whoever also forges the root of an entry has to forge every later one."""
    bodies = [row[0] for row in forger.execute("SELECT body FROM journal ORDER BY seq")]
    bodies[4] = bodies[4].replace(b"technician", b"technicien")
    root = compute_root(bodies[:5])
    forger.execute("UPDATE journal SET body = ?, root = ? WHERE seq = 5", (bodies[4], root))
    assert check_book(story_folder).first_broken_entry == 6


def test_a_book_rewritten_to_its_end_shows_only_against_a_root_kept_elsewhere(story_folder, forger):
    """The limit of the claim: a wholly rewritten end is consistent in itself, with another root."""
    with Book.open(story_folder) as book:
        kept = book.root
    bodies = [row[0] for row in forger.execute("SELECT body FROM journal ORDER BY seq")]
    bodies[4] = bodies[4].replace(b"technician", b"technicien")
    for seq in range(5, len(bodies) + 1):
        forger.execute(
            "UPDATE journal SET body = ?, root = ? WHERE seq = ?",
            (bodies[seq - 1], compute_root(bodies[:seq]), seq),
        )
    state = check_book(story_folder)
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
    assert check_book(story_folder).first_broken_entry == 14  # the derived tables still know it
    forger.execute("DROP TABLE derived")
    assert check_book(story_folder).unbroken
