"""The vectors are those that were published."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest
from origins import list_strangers

HERE = Path(__file__).parent
KNOWN = "read|read in a copy|recomputed|computed"


def test_vectors_are_those_of_the_origin_table() -> None:
    """Each vector is byte for byte the one that the table of origins names, with its licence."""
    assert list_strangers(HERE) == []


@pytest.mark.parametrize("page", sorted(HERE.glob("test_*.py")), ids=lambda page: page.stem)
def test_every_published_value_has_a_source(page: Path) -> None:
    """Each module of published values names where they are from and how they are known."""
    told = ast.get_docstring(ast.parse(page.read_text(encoding="utf-8"))) or ""
    assert page == Path(__file__) or re.search(r"^Sources?[:,] ", told, re.MULTILINE)
    assert page == Path(__file__) or re.search(rf"^Known: ({KNOWN})\b", told, re.MULTILINE)


def test_a_changed_vector_is_found(tmp_path: Path) -> None:
    """A byte more, a file that nobody named and a licence that is absent are told."""
    (tmp_path / "licences").mkdir()
    (tmp_path / "a.bin").write_bytes(b"ab")
    (tmp_path / "b.bin").write_bytes(b"")
    digest = "ca978112ca1bbdcafac231b39a23dc4da786eff8147c4e72b9807785afee48bb"  # of "a"
    row = f"| `a.bin` | 1 | `{digest}` | some/place | `a` | `0` | MIT | example |\n"
    (tmp_path / "ORIGIN.md").write_text(row, encoding="utf-8")
    told = list_strangers(tmp_path)
    assert [line.split(":")[0] for line in told] == ["a.bin", "b.bin", "licence of some/place"]
