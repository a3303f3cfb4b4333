"""Paths as a person drops them, and folders listed in a fixed order."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from ledger.errors import UnreadableFileError, UsageError
from ledger.walk import list_files, read_dropped_path


@pytest.mark.parametrize(
    ("text", "meant"),
    [
        ("raw/a.las", "raw/a.las"),
        ("  raw/a.las \n", "raw/a.las"),
        ("'raw/site 3/a.las'", "raw/site 3/a.las"),
        ('"raw/site 3/a.las"', "raw/site 3/a.las"),
        (r"raw/site\ 3/a\ \(1\).las", "raw/site 3/a (1).las"),
        (r"raw/tom\&ann\[2\]\'s.las", "raw/tom&ann[2]'s.las"),
        ("file:///media/card/a%20b.las", "/media/card/a b.las"),
        ("file://localhost/media/a.las", "/media/a.las"),
        ("file:///D:/raw/a.las", "D:/raw/a.las"),
        ("file://office/share/a.las", "//office/share/a.las"),
        ("file:///media/a%23b%3F.las", "/media/a#b?.las"),
        ("'", "'"),
    ],
)
def test_dropped_paths_mean_the_file(text: str, meant: str) -> None:
    """Quotes, escaped spaces and `file://` addresses that windows drop are undone."""
    assert read_dropped_path(text) == Path(meant)


@pytest.mark.parametrize("scheme", ["s3", "https", "gs", "svn+ssh", "S3"])
def test_an_address_of_something_on_no_drive_is_refused(scheme: str) -> None:
    """One line, with what to do, and without what may be a password (RFC 3986, section 3)."""
    with pytest.raises(UsageError) as refused:
        read_dropped_path(f"'{scheme}://ann:secret@bucket/tiles'")
    assert f"found {scheme}://…; copy it to a drive" in str(refused.value)
    assert "secret" not in str(refused.value)


def test_a_byte_that_is_no_text_survives_an_address() -> None:
    """A `file://` address names its bytes in hex; those that are no UTF-8 come through."""
    assert os.fsencode(read_dropped_path("file:///a%80b")) == b"/a\x80b"


def test_a_tilde_is_the_persons_own_folder(monkeypatch: pytest.MonkeyPatch) -> None:
    """`~` leads to the home folder, as a shell would have written it."""
    monkeypatch.setenv("HOME", "/elsewhere")
    monkeypatch.setenv("USERPROFILE", "/elsewhere")
    assert read_dropped_path("~/raw") == Path("/elsewhere/raw")


@pytest.mark.parametrize("name", [" a ", "'a'", r"a\ b", "~a", "file:"])
def test_a_name_that_is_there_is_taken_as_typed(
    name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Nothing is undone of a name that lies there exactly so."""
    monkeypatch.chdir(tmp_path)
    try:
        Path(name).write_bytes(b"")
    except OSError:
        pytest.skip(f"this file system has no file named {name!r}")
    assert read_dropped_path(name) == Path(name)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "empty"),
        ("  ", "empty"),
        ("''", "empty"),
        ("file://", "empty"),
        ("a\0b", "null"),
        ("~nobody-of-that-name/a", "no such user"),
    ],
)
def test_what_can_be_no_path_is_refused(text: str, words: str) -> None:
    """An empty path must not mean the working folder, nor a null character end a name."""
    with pytest.raises(UsageError, match=words):
        read_dropped_path(text)


def test_files_are_listed_once_in_order(tmp_path: Path) -> None:
    """A folder and files of it, named in any order, give each file once, sorted."""
    for name in ("b/2", "b/1", "a/3", "c"):
        path = tmp_path / name
        path.parent.mkdir(exist_ok=True)
        path.write_bytes(b"")
    listed = list_files([tmp_path / "c", tmp_path / "b" / "2", tmp_path, tmp_path / "b"])
    assert [path.relative_to(tmp_path).as_posix() for path in listed] == ["a/3", "b/1", "b/2", "c"]


def test_relative_paths_become_absolute(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """What is listed does not depend on the working folder any more, and `..` is gone."""
    (tmp_path / "a").mkdir()
    (tmp_path / "x").write_bytes(b"")
    monkeypatch.chdir(tmp_path / "a")
    assert list_files([Path("../x")]) == [tmp_path / "x"]


def test_what_systems_leave_behind_is_no_file_of_a_job(tmp_path: Path) -> None:
    """Files and folders that a system makes by itself are left out of a folder."""
    (tmp_path / "System Volume Information").mkdir()
    (tmp_path / "System Volume Information" / "x").write_bytes(b"")
    (tmp_path / ".DS_Store").write_bytes(b"")
    (tmp_path / "a").write_bytes(b"")
    assert list_files([tmp_path]) == [tmp_path / "a"]
    assert list_files([tmp_path / ".DS_Store"]) == [tmp_path / ".DS_Store"]


def test_links_to_folders_are_not_followed(tmp_path: Path) -> None:
    """A link that leads back up, or out, gives no file twice and no endless walk."""
    (tmp_path / "raw").mkdir()
    (tmp_path / "raw" / "a").write_bytes(b"")
    (tmp_path / "raw" / "up").symlink_to(tmp_path, target_is_directory=True)
    listed = list_files([tmp_path / "raw"])
    assert tmp_path / "raw" / "a" in listed
    assert [path for path in listed if path.is_relative_to(tmp_path / "raw" / "up" / "raw")] == []


@pytest.mark.parametrize("name", ["none", "none/below", "x" * 300, "nul\0l"])
def test_a_path_that_is_not_there_is_one_error(name: str, tmp_path: Path) -> None:
    """A missing path, one below a file, one too long and one that can be none: one error each."""
    (tmp_path / "file").write_bytes(b"")
    with pytest.raises(UnreadableFileError) as caught:
        list_files([tmp_path / name])
    (fault,) = caught.value.faults
    assert fault.what == "there is no such file or folder"
    assert (fault.remedy, fault.found) == ("check the path", "") or (name != "none" and fault.found)


def test_a_broken_link_is_listed_for_the_reader_to_refuse(tmp_path: Path) -> None:
    """A link to nothing is there; leaving it out would let it pass."""
    (tmp_path / "broken").symlink_to("nothing")
    assert list_files([tmp_path / "broken"]) == [tmp_path / "broken"]


def test_a_folder_that_cannot_be_listed_is_an_error(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A folder that the system keeps closed must not pass for an empty one."""
    (tmp_path / "closed").mkdir()

    def refuse(place: os.PathLike[str]) -> None:
        raise PermissionError(13, "Permission denied", str(place))

    monkeypatch.setattr(os, "scandir", refuse)
    with pytest.raises(UnreadableFileError, match="cannot be listed: found Permission denied"):
        list_files([tmp_path / "closed"])


def test_a_folder_that_cannot_be_listed_may_be_passed_over_but_not_unseen(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whoever can say what was left out is told of every closed folder and gets the rest."""
    for name in ("a/1", "closed/2", "open/3", "open/shut/4"):
        path = tmp_path / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(b"")
    really = os.scandir

    def refuse(place: os.PathLike[str]):
        if Path(place).name in ("closed", "shut"):
            raise PermissionError(13, "Permission denied", os.fspath(place))
        return really(place)

    monkeypatch.setattr(os, "scandir", refuse)
    told: list[UnreadableFileError] = []
    listed = list_files([tmp_path], on_closed=told.append)
    assert listed == [tmp_path / "a" / "1", tmp_path / "open" / "3"]
    places = [fault.where for error in told for fault in error.faults]
    assert sorted(places) == [str(tmp_path / "closed"), str(tmp_path / "open" / "shut")]
