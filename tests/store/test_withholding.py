"""A content that is withheld is gone, and the book stays unbroken."""

from __future__ import annotations

import zlib

import pytest

from ledger.canonical import compute_digest
from ledger.errors import BookError
from ledger.model.ask import NoProgress


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
