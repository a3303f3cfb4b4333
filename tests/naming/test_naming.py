"""Two files never share a name in the book, and each keeps the one that it has.

Forms of names: Unicode Standard Annex 15 (NFC and NFD).
"""

from __future__ import annotations

import os
import unicodedata
from pathlib import Path

import pytest

from ledger.model.filename import find_path
from ledger.naming import BookName, name_files

NFC = unicodedata.normalize("NFC", "Núñez.txt")
NFD = unicodedata.normalize("NFD", "Núñez.txt")
MIXED = NFC[:2] + NFD[3:]  # the first letter in one form, the second in the other
BYTE, SPELLED = os.fsdecode(b"a\x80.txt"), "a\\x80.txt"
KELVIN = "\u212a.txt"  # its NFC is the letter K


def make(job: Path, *names: str) -> list[Path]:
    """Write files of these names; skip where the file system takes two for one."""
    for name in names:
        try:
            (job / name).write_bytes(name.encode("utf-8", "surrogateescape"))
        except OSError as error:
            pytest.skip(f"this file system refuses the name: {error}")
    if len(list(job.iterdir())) != len(names):
        pytest.skip("this file system has one name for both")
    return [job / name for name in names]


def hexed(name: str) -> str:
    """Return the raw bytes of a name in hex."""
    return os.fsencode(name).hex()


def test_the_suffix_is_the_name_alone(tmp_path: Path) -> None:
    """Seen from the job or from a folder in it, a file has the same last name."""
    (tmp_path / "raw").mkdir()
    other, _ = make(tmp_path / "raw", NFD, NFC)
    assert name_files([other], tmp_path, {})[other].path == f"raw/{NFC} ({hexed(NFD)})"
    assert name_files([other], tmp_path / "raw", {})[other].path == f"{NFC} ({hexed(NFD)})"


def test_folders_that_come_out_alike_are_told_apart(tmp_path: Path) -> None:
    """Files of the same name in two such folders are two files."""
    for name in (NFD, NFC):
        (tmp_path / name).mkdir()
        (tmp_path / name / "a.txt").write_bytes(b"")
    if len(list(tmp_path.iterdir())) < 2:
        pytest.skip("this file system has one name for both")
    first, second = tmp_path / NFD / "a.txt", tmp_path / NFC / "a.txt"
    names = name_files([first, second], tmp_path, {})
    assert names[second] == BookName(f"{NFC}/a.txt", "")
    assert names[first].path == f"{NFC} ({hexed(NFD)})/a.txt"
    assert find_path(names[first].path, names[first].raw, tmp_path) == first


def test_a_plain_name_is_itself(tmp_path: Path) -> None:
    """A usual name has no raw bytes beside it."""
    (path,) = make(tmp_path, "a.txt")
    assert name_files([path], tmp_path, {}) == {path: BookName("a.txt", "")}


def test_a_name_in_another_form_has_its_raw_bytes_beside(tmp_path: Path) -> None:
    """Alone, a decomposed name is written composed."""
    (path,) = make(tmp_path, NFD)
    assert name_files([path], tmp_path, {}) == {path: BookName(NFC, hexed(NFD))}


@pytest.mark.parametrize("pair", [(NFD, NFC), (BYTE, SPELLED), (KELVIN, "K.txt")])
def test_of_two_alike_the_exact_one_keeps_the_name(tmp_path: Path, pair: tuple[str, str]) -> None:
    """In whatever order they are named, each has its own name and is found by it."""
    other, exact = make(tmp_path, *pair)
    for order in ([other, exact], [exact, other]):
        names = name_files(order, tmp_path, {})
        assert names[exact] == BookName(exact.name, "")
        assert names[other] == BookName(f"{exact.name} ({hexed(other.name)})", hexed(other.name))
    for path, name in names.items():
        assert find_path(name.path, name.raw, tmp_path) == path


def test_two_that_are_both_not_exact_are_told_apart(tmp_path: Path) -> None:
    """Names half in one form and half in the other are as good as any: neither is the plain one."""
    first, second = make(tmp_path, NFD, MIXED)
    names = name_files([first, second], tmp_path, {})
    for path, name in names.items():
        assert name == BookName(f"{NFC} ({hexed(path.name)})", hexed(path.name))
        assert find_path(name.path, name.raw, tmp_path) == path


@pytest.mark.parametrize("pair", [(NFD, NFC), (BYTE, SPELLED), (KELVIN, "K.txt"), (NFD, MIXED)])
def test_a_file_beside_counts_also_where_it_is_not_named(
    tmp_path: Path, pair: tuple[str, str]
) -> None:
    """Named one by one, two files have the names that they have when named together."""
    paths = make(tmp_path, *pair)
    together = name_files(paths, tmp_path, {})
    for path in paths:
        assert name_files([path], tmp_path, {}) == {path: together[path]}


@pytest.mark.parametrize("pair", [(NFD, NFC), (BYTE, SPELLED), (KELVIN, "K.txt")])
def test_the_plain_name_stays_with_the_file_that_got_it(
    tmp_path: Path, pair: tuple[str, str]
) -> None:
    """A file that comes later does not take the name of one that the book knows."""
    (first,) = make(tmp_path, pair[0])
    known = {name.path: name.raw for name in name_files([first], tmp_path, {}).values()}
    assert known == {pair[1]: hexed(pair[0])}
    first, later = make(tmp_path, *pair)
    alone = name_files([later], tmp_path, known)
    together = name_files([first, later], tmp_path, known)
    assert together[first] == BookName(later.name, hexed(first.name))
    assert alone[later] == together[later]
    assert alone[later] == BookName(f"{later.name} ({hexed(later.name)})", hexed(later.name))
    assert find_path(alone[later].path, alone[later].raw, tmp_path) == later
    first.unlink()
    assert name_files([later], tmp_path, known)[later] == BookName(later.name, "")


def test_a_file_that_travelled_keeps_its_name(tmp_path: Path) -> None:
    """Where only the form changed on the way, the file in the new form is that file."""
    (path,) = make(tmp_path, NFC)
    assert name_files([path], tmp_path, {NFC: hexed(NFD)}) == {path: BookName(NFC, "")}


def test_files_outside_the_job_are_told_apart_as_well(tmp_path: Path) -> None:
    """On a card the whole path is the name."""
    other, exact = make(tmp_path, NFD, NFC)
    names = name_files([other, exact], Path("/job"), {})
    assert names[exact].path == exact.as_posix()
    assert names[other].path == f"{tmp_path.as_posix()}/{NFC} ({hexed(NFD)})"
    assert names[other].raw == os.fsencode(other).hex()
    assert find_path(names[other].path, names[other].raw, Path("/job")) == other
