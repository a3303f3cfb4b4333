"""Adding to a book that is broken is refused; what stands beside its rows is mended."""

from __future__ import annotations

import sqlite3

import pytest
from checked_book import NOTE

from ledger.errors import BrokenBookError
from ledger.model.ask import NoProgress
from ledger.store.schema import BOOK_NAME, TRIGGERS
from ledger.store.writing import BookWriter


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


def test_damaged_pages_are_one_line(story_folder):
    """Where pages of the file are damaged, writing is refused in one line."""
    path = story_folder / BOOK_NAME
    content = path.read_bytes()
    path.write_bytes(content[:8192] + b"\xff" * (len(content) - 8192))
    with pytest.raises(BrokenBookError, match="damaged") as caught:
        BookWriter.open(story_folder)
    assert "\n" not in str(caught.value)
