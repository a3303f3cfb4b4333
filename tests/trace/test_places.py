"""A copy of a file is told by the path that was asked about, and by those that the book knows."""

from __future__ import annotations

import hashlib
import shutil
from pathlib import Path

from made_book import MadeBook

from ledger.trace import Place, trace


def test_a_renamed_copy_leaves_the_raw_paths_alone(survey: MadeBook, tmp_path: Path) -> None:
    """The chain shows a raw file where it was registered, not where its copy was found."""
    stray = tmp_path / "from the card.bin"
    shutil.copy(survey.folder / "raw/cap_p1.bin", stray)
    result = trace(survey.folder, str(stray))
    assert result.path == stray.as_posix()
    assert result.sentence.startswith("from the card.bin is a raw file of flight F1")
    names = {node.name for node in result.chain if node.kind == "file"}
    assert names == {"raw/cap_p1.bin", "raw/cap_p2.bin"}
    assert result.places == (Place("raw/cap_p1.bin", "registered", "F1", 2),)
    assert result.backing.copies == ()  # the raw file itself is no other copy of the stray one


def test_every_path_of_the_bytes_is_told_once(survey: MadeBook) -> None:
    """A delivered tile is known where a run wrote it, first, and where it was audited."""
    result = trace(survey.folder, str(survey.folder / "deliver/tile_13.las"))
    assert result.chain[0].name == "deliver/tile_13.las"
    assert [(place.path, place.relation, place.owner) for place in result.places] == [
        ("out/R2/tile_13.las", "output", "R2"),
        ("deliver/tile_13.las", "audited", "D1"),
    ]


def test_a_digest_shows_the_path_that_tells_most(survey: MadeBook) -> None:
    """Asked by its digest, a file is shown where its run wrote it."""
    digest = hashlib.sha256(b"orthometric 13").hexdigest()
    assert trace(survey.folder, digest).path == "out/R2/tile_13.las"


def test_a_file_that_took_the_place_of_another_says_so(survey: MadeBook) -> None:
    """Known bytes under a path where the book saw others were put there since."""
    shutil.copy(survey.folder / "out/R2/tile_14.las", survey.folder / "deliver/tile_14.las")
    result = trace(survey.folder, str(survey.folder / "deliver/tile_14.las"))
    assert "was made by run R2" in result.sentence
    (note,) = result.notes
    assert "last saw other bytes under deliver/tile_14.las" in note
    assert trace(survey.folder, str(survey.folder / "deliver/tile_13.las")).notes == ()
