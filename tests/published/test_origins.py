"""The vectors are those that were published."""

from __future__ import annotations

from pathlib import Path

from origins import list_strangers


def test_vectors_are_those_of_the_origin_table() -> None:
    """Each vector is byte for byte the one that the table of origins names, with its licence."""
    assert list_strangers(Path(__file__).parent) == []


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
