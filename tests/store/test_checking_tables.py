"""The check of what stands beside the rows: triggers and derived tables that are not as ours."""

from __future__ import annotations

import pytest
from checked_book import check_book

from ledger.model.ask import NoProgress
from ledger.store.reading import Book
from ledger.store.schema import BOOK_NAME, TRIGGERS
from ledger.store.writing import BookWriter


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
    state = check_book(story_folder)
    assert (state.unbroken, state.derived_difference) == (True, name)
    assert f"has to be laid anew: {name}" in state.sentence
    with BookWriter.open(story_folder) as book:
        assert book.check(NoProgress()).derived_difference == name
    assert check_book(story_folder).derived_difference == ""


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
    state = check_book(story_folder)
    assert (state.unbroken, state.derived_difference) == (True, table)
    assert table in state.sentence
    with BookWriter.open(story_folder) as book:
        assert book.check(NoProgress()).derived_difference == table
    assert dump_derived(tables) == right
    assert check_book(story_folder).derived_difference == ""


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
    assert check_book(story_folder).derived_difference == ""
    tables.execute("DELETE FROM entries WHERE seq = ?", (entry.seq,))
    state = check_book(story_folder)
    assert (state.unbroken, state.derived_difference) == (True, "entries")
