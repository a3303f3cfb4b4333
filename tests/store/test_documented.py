"""The reference page of the book states what the code stores."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from ledger.model.entry import Kind
from ledger.store.schema import APPLICATION_ID, DERIVED_TABLES, LAYOUT_VERSION, STORED_TABLES

PAGE = Path(__file__).resolve().parents[2] / "docs" / "reference" / "book.md"


@pytest.fixture(scope="module")
def text() -> str:
    """Give the page."""
    return PAGE.read_text(encoding="utf-8")


def test_the_file_is_as_documented(text):
    """Application id, layout version and both stored tables stand in the page as they are."""
    assert f"| {APPLICATION_ID}, that is `0x{APPLICATION_ID:X}`" in text
    assert APPLICATION_ID.to_bytes(4, "big") == b"SwBk"
    assert f"| `user_version` | {LAYOUT_VERSION}:" in text
    for statement in STORED_TABLES.values():
        assert statement in text
    assert [name for name in DERIVED_TABLES if f"`{name}`" not in text] == []


def test_every_kind_of_entry_has_a_section(text):
    """Each kind has a section of its own, and no section is about a kind that is not there."""
    part = text.split("## Kinds of entry")[1].split("\n## ")[0]
    assert re.findall(r"^### (.*)$", part, re.MULTILINE) == [str(kind) for kind in Kind]


def test_every_key_of_an_entry_is_documented(text, story):
    """Each key that an entry of the story gives stands in the section of its kind, or its model."""
    sections = dict(re.findall(r"^### (\S+)\n(.*?)(?=^##)", text, re.MULTILINE | re.DOTALL))
    like = {"rig": "flight", "step": "run"}
    for item in story:
        kind = str(item.draft.kind)
        section = sections[kind] + sections.get(like.get(kind, ""), "")
        assert [key for key in item.draft.values if f"`{key}`" not in section] == [], kind
