"""The card to be printed has every field once, under the same name as the form, and no more."""

from __future__ import annotations

from html.parser import HTMLParser

import pytest

from ledger.model.fields import list_fields
from ledger.report.card_page import make_card_page


class Reader(HTMLParser):
    """Gathers the texts of a page by the class of the element that they stand in."""

    def __init__(self, page: str) -> None:
        """Read a page."""
        super().__init__()
        self.texts: dict[str, list[str]] = {}
        self._open: list[str] = []
        self.feed(page)

    def handle_starttag(self, tag, attrs):
        """Note the element."""
        if tag not in ("meta", "br"):
            self._open.append(dict(attrs).get("class") or tag)

    def handle_endtag(self, tag):
        """Forget the element."""
        self._open.pop()

    def handle_data(self, data):
        """Keep a text under the innermost element."""
        if self._open and data.strip():
            self.texts.setdefault(self._open[-1], []).append(data.strip())


@pytest.mark.parametrize("kind", ["flight", "rig"])
def test_every_field_stands_once_with_its_name_and_choices(kind):
    """What is written on paper can be typed in under the same names."""
    texts = Reader(make_card_page(kind)).texts
    # How a file is laid out is asked at the desk, where the file is.
    fields = [each for each in list_fields(kind) if not each.key.startswith("flight.track_")]
    assert texts["key"] == [field.key for field in fields]
    choices = [choice for field in fields for choice in field.choices]
    assert [text for text in texts.get("choice", []) if text not in ("yes", "no")] == choices
    assert texts.get("unit", []).count("m") == sum(field.unit == "m" for field in fields)


def test_the_antenna_height_is_read_twice():
    """A misread tape shows only beside a second reading (common practice, no source)."""
    keys = Reader(make_card_page("flight")).texts["key"]
    place = keys.index("flight.base_height")
    assert keys[place + 1] == "flight.base_height_again"


def test_names_cannot_change_the_page():
    """A job's reference is text, whatever it holds."""
    page = make_card_page("flight", "<script>alert(1)</script>", "F1")
    assert "<script>" not in page
    assert "&lt;script&gt;" in page


def test_the_page_stands_alone_and_says_the_cautions():
    """Nothing is fetched; spinning propellers come before any record."""
    page = make_card_page("flight", "QM-0412", "F1")
    assert "http" not in page
    assert "src=" not in page
    assert "propellers stop" in page
    assert "swathbook record flight F1" in page
