"""Tables of points as people have them."""

from __future__ import annotations

from pathlib import Path

import pytest

from ledger.errors import MalformedFileError
from ledger.tables.facts import read_point_table


def _write(folder: Path, content: str, encoding: str = "utf-8") -> Path:
    path = folder / "points.csv"
    path.write_bytes(content.encode(encoding))
    return path


@pytest.mark.parametrize(
    ("content", "separator"),
    [
        ("id,easting,northing,height\nC1,1.0,2.0,3.0\nC2,4.0,5.0,6.0\n", "comma"),
        ("Point;E;N;H\nC1;1,0;2,0;3,0\nC2;4,0;5,0;6,0\n", "semicolon"),
        ("name\tX\tY\tZ\nC1\t1.0\t2.0\t3.0\nC2\t4.0\t5.0\t6.0\n", "tab"),
    ],
)
def test_columns_are_recognised_by_name(tmp_path: Path, content: str, separator: str) -> None:
    """Easting, northing and height are recognised under the names of the trade."""
    facts = read_point_table(_write(tmp_path, content))
    assert (facts.rows, facts.separator, facts.is_point_table) == (2, separator, True)


def test_without_names_nothing_is_guessed(tmp_path: Path) -> None:
    """A table without names of columns is counted, but nothing is said of their meaning."""
    facts = read_point_table(_write(tmp_path, "C1,1.0,2.0,3.0\nC2,4.0,5.0,6.0\n"))
    assert (facts.rows, facts.columns, facts.is_point_table) == (2, (), False)


def test_comments_are_kept(tmp_path: Path) -> None:
    """Comment lines hold the declaration of frame and unit: they are facts."""
    facts = read_point_table(_write(tmp_path, "# unit: metre\nid,e,n,h\nC1,1,2,3\n"))
    assert facts.comments == ("# unit: metre",)


def test_rows_of_another_width_are_counted(tmp_path: Path) -> None:
    """A row with another number of columns is counted, never silently dropped."""
    facts = read_point_table(_write(tmp_path, "id,e,n,h\nC1,1,2,3\nC2,1,2,3,4\nC3,1,2,3\n"))
    assert (facts.rows, facts.skipped) == (2, 1)


@pytest.mark.parametrize("encoding", ["utf-8-sig", "cp1252", "utf-16"])
def test_encodings_of_office_programs(tmp_path: Path, encoding: str) -> None:
    """Text with a mark, in Western code or in two-byte form is read alike."""
    facts = read_point_table(_write(tmp_path, "id,e,n,h\nMüller,1,2,3\n", encoding))
    assert (facts.rows, facts.is_point_table) == (1, True)


@pytest.mark.parametrize("content", ["", "just a note\n", "a,b\n"])
def test_what_is_no_table(tmp_path: Path, content: str) -> None:
    """A text without columns is refused."""
    with pytest.raises(MalformedFileError):
        read_point_table(_write(tmp_path, content))
