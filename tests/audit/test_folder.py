"""The files of a folder: every name kept, nothing outside read, nothing left out."""

from __future__ import annotations

import os
import sys
import unicodedata
from pathlib import Path

import pytest
from open_data import OpenFile

from ledger.audit.folder import list_folder
from ledger.errors import UsageError
from ledger.store.reading import BOOK_NAME
from ledger.testing import SurveyBuilder

needs_links = pytest.mark.skipif(sys.platform == "win32", reason="links need rights on Windows")


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Return an empty folder."""
    made = tmp_path / "deliver"
    made.mkdir()
    return made


def list_names(folder: Path) -> list[str]:
    """Return the names of all files in a folder."""
    return [found.name for found in list_folder(folder)]


def test_every_name_is_kept_in_order(folder: Path) -> None:
    """Hidden files and those that systems leave behind are listed: they would be sent."""
    (folder / "b").mkdir()
    for name in ("z.las", "b/inner.tif", ".hidden", "Thumbs.db", ".DS_Store", "a b[1].txt"):
        (folder / name).write_bytes(b"x")
    assert list_names(folder) == sorted(
        ["z.las", "b/inner.tif", ".hidden", "Thumbs.db", ".DS_Store", "a b[1].txt"]
    )


def test_content_decides_before_the_name(folder: Path, open_file: OpenFile) -> None:
    """A point file without its ending is one, and a file that claims to be one is held to it."""
    tile = SurveyBuilder(folder / "tiles").paths[0]
    (folder / "renamed.bin").write_bytes(tile.read_bytes())
    (folder / "claims.LAZ").write_bytes(b"nothing of the kind")
    grid = (open_file("geoid/us_noaa_g2018p0.tif")).read_bytes()
    (folder / "grid.dat").write_bytes(grid)
    (folder / "empty.tif").write_bytes(b"")
    (folder / "report.pdf").write_bytes(b"%PDF")
    kinds = {found.name: found.kind for found in list_folder(folder)}
    assert kinds.pop(f"tiles/{tile.name}") == "points"
    assert kinds["renamed.bin"] == kinds["claims.LAZ"] == "points"
    assert kinds["grid.dat"] == kinds["empty.tif"] == "raster"
    assert kinds["report.pdf"] == "document"


@needs_links
def test_links_out_round_and_to_nothing_are_told_not_followed(folder: Path) -> None:
    """Whatever a link leads to outside, it is listed with the reason and never read."""
    secret = folder.parent / "secret.las"
    secret.write_bytes(b"LASF secret")
    (folder / "real.txt").write_bytes(b"x")
    (folder / "out.las").symlink_to(secret)
    (folder / "nothing.las").symlink_to(folder / "absent")
    (folder / "loop").symlink_to(folder)
    (folder / "self").symlink_to(folder / "self")
    (folder / "near.txt").symlink_to("real.txt")
    faults = {found.name: found.fault for found in list_folder(folder)}
    assert faults["real.txt"] == faults["near.txt"] == ""
    assert "out of the folder" in faults["out.las"]
    assert "leads to nothing" in faults["nothing.las"]
    assert "link to a folder" in faults["loop"]
    assert faults["self"]
    assert len(faults) == 6


@needs_links
def test_a_pipe_is_told_and_never_opened(folder: Path) -> None:
    """A pipe would wait for a writer for ever."""
    os.mkfifo(folder / "pipe.las")
    (found,) = list_folder(folder)
    assert found.fault == "it is neither a file nor a folder"


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="root may list all")
def test_a_folder_that_cannot_be_listed_is_told(folder: Path) -> None:
    """What cannot be listed stands in the list by its own name."""
    (folder / "shut").mkdir()
    (folder / "shut").chmod(0)
    try:
        (found,) = list_folder(folder)
    finally:
        (folder / "shut").chmod(0o700)
    assert "cannot be listed" in found.fault


@pytest.mark.skipif(sys.platform != "linux", reason="other systems refuse such names")
def test_names_that_differ_only_in_form_stay_two(folder: Path) -> None:
    """Two names with one composed form (Unicode NFC) are two files, and neither is lost."""
    for form in ("NFC", "NFD"):
        (folder / unicodedata.normalize(form, "Núñez.txt")).write_bytes(form.encode())
    (folder / os.fsdecode(b"caf\xe9.txt")).write_bytes(b"latin")
    names = list_names(folder)
    assert len(set(names)) == 3
    assert all(name.encode("utf-8") for name in names)
    assert r"caf\xe9.txt" in names


@pytest.mark.parametrize("kind", ["absent", "file", "empty", "book"])
def test_what_is_no_folder_to_send_is_refused(folder: Path, kind: str) -> None:
    """An absent or empty folder, a file, and a folder with a book are errors of use."""
    place = folder
    if kind == "absent":
        place = folder / "absent"
    elif kind == "file":
        place = folder / "tile.las"
        place.write_bytes(b"x")
    elif kind == "empty":
        (folder / "inner").mkdir()
    else:
        (folder / BOOK_NAME).write_bytes(b"x")
    with pytest.raises(UsageError, match="folder"):
        list_folder(place)
