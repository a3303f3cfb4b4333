"""What was ordered and is not in the folder."""

from __future__ import annotations

from typing import Any

import pytest
from made_raw import grade, judge, make_job

from ledger.contract.check import Grade, Outcome
from ledger.model.artefact import FileRecord
from ledger.model.specification import Delivery, Specification
from ledger.testing import make_file
from lidar_checks.lineage.package_items import PackageItems

FILES = (
    make_file("tile_01.laz"),
    make_file("dtm.tif", kind="raster"),
    make_file("points.csv", kind="document", sha256="c" * 64),
    make_file("tile_index.geojson", kind="document"),
    make_file("project report.pdf", kind="document"),
)
CHECKS = {"c" * 64: FileRecord("raw/checks.csv", "c" * 64, 1, 1, "checkpoints")}


def look(*items: str, carried: tuple[str, ...] = (), files: tuple[Any, ...] = FILES) -> Any:
    """Return the findings about some items."""
    wishes = Specification(carried=carried, delivery=Delivery(items=items))
    return judge(PackageItems(), make_job(files=files, specification=wishes, registered=CHECKS))


@pytest.mark.parametrize(
    ("item", "expected"),
    [
        ("tiles", Outcome.CONFORMS),
        ("dtm", Outcome.CONFORMS),
        ("dsm", Grade.MINOR),
        ("checkpoint-table", Outcome.CONFORMS),
        ("control-table", Grade.MINOR),
        ("Tile Index", Outcome.CONFORMS),
        ("tile_index", Outcome.CONFORMS),
        ("report", Outcome.CONFORMS),
        ("trajectory", Grade.MINOR),
        ("metadata", Grade.MINOR),
        ("project report", Outcome.CONFORMS),
        ("hologram", Outcome.INCONCLUSIVE),
    ],
)
def test_each_item_is_looked_for(item: str, expected: Grade | Outcome) -> None:
    """By kind, by role or by name; of an unknown item nothing is claimed."""
    found = look(item)[item]
    assert grade(found) is expected
    if expected is Grade.MINOR:
        assert found.catalogue == ("RH-11",)


def test_how_it_was_told_is_said() -> None:
    """A name is no proof of content, so the sentence says that it was the name."""
    assert look("tile-index")["tile-index"].sentence.endswith("told by its name.")
    assert look("checkpoint-table")["checkpoint-table"].sentence == "checkpoint-table: points.csv."


def test_nothing_but_a_text() -> None:
    """A raster that is no terrain model, and a folder without points."""
    photo = (make_file("ortho.tif", kind="raster"),)
    assert grade(look("dtm", files=photo)["dtm"]) is Grade.MINOR
    assert grade(look("tiles", files=photo)["tiles"]) is Grade.MINOR
    assert grade(look("raster", files=photo)["raster"]) is Outcome.CONFORMS
    grid = (make_file("grid_1m.tif", kind="raster"),)
    assert grade(look("dtm", files=grid)["dtm"]) is Outcome.INCONCLUSIVE


def test_a_carried_list_proves_nothing() -> None:
    """Items of the last job that nobody confirmed may be missing, and never complete."""
    carried = ("delivery.items",)
    assert grade(look("tiles", carried=carried)["tiles"]) is Outcome.INCONCLUSIVE
    assert grade(look("dsm", carried=carried)["dsm"]) is Grade.MINOR
