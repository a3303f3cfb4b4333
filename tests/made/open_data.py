"""Real files: a small set that lies with the tests, and a larger collection that may be at hand."""

from __future__ import annotations

import json
import os
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

VARIABLE = "SWATHBOOK_TEST_DATA"
SMALL_SET = Path(__file__).parents[1] / "real"
ABSENT = f"OPEN TEST DATA NOT FOUND: {VARIABLE} has to name the folder of the whole collection"

# Point files whose records of a coordinate system are absent, empty or without a meaning.
WITHOUT_CRS = {
    "1.2-with-color.las",
    "1.2-with-color-clipped.las",
    "1.2-empty-geotiff-vlrs.las",
    "5points_14.las",
    "broken_coder.laz",
    "broken_size.laz",
    "broken_type.laz",
    "extrabytes.las",
    "simple1_1.las",
    "simple1_3.las",
    "unregistered_extra_bytes.las",
    "vegetation_1_3.las",
}

OpenFile = Callable[[str], Path]
PointFacts = dict[Path, dict[str, Any]]


def find_collection() -> Path | None:
    """Return the folder of the whole collection; None where it is absent, or named as nothing.

    Raises:
        pytest.UsageError: a folder is named that does not hold it; a typing error would skip tests.
    """
    named = os.environ.get(VARIABLE)
    if named == "":
        return None
    folder = Path(named) if named else Path(__file__).resolve().parents[3] / "shared" / "data"
    if (folder / "manifest.tsv").is_file():
        return folder
    if named:
        raise pytest.UsageError(f"{VARIABLE} names {folder}, which holds no manifest.tsv")
    return None


def find_open_file(name: str) -> Path:
    """Return one real file by its folder and name in the collection, from wherever it lies.

    Skips, loudly, where it is too large for the small set and the collection is absent.
    """
    small = SMALL_SET / Path(name).name
    if small.is_file():
        return small
    collection = find_collection()
    if collection is None:
        pytest.skip(f"{ABSENT}: {name}")
    return collection / name


def read_point_facts() -> PointFacts:
    """Return what other software read from each real point file at hand.

    Those of the whole collection, or else those of the small set.
    """
    collection = find_collection()
    table = collection / "las" / "facts.json" if collection else SMALL_SET / "facts.json"
    folder = collection or SMALL_SET
    facts: dict[str, dict[str, Any]] = json.loads(table.read_text(encoding="utf-8"))
    return {folder / name: known for name, known in sorted(facts.items())}
