"""How an item that a specification asks for is told among the files of a folder.

By what a file is, where that can be told (points, a raster, a table that was registered as the one
of the checkpoints); else by its name. Names of items are those of the trade, no source.
"""

from __future__ import annotations

import re
from pathlib import PurePosixPath

from ledger.contract.evidence import DeliveredFile, Evidence
from ledger.dataclass import dataclass
from ledger.model.artefact import Role


@dataclass(frozen=True)
class ItemKind:
    """What one item is.

    Args:
        kind: kind of the file: `points`, `raster`; empty for any.
        role: role that the file was registered with; empty for none.
        words: words of which one stands in the name of such a file.
        suffixes: endings of such files; empty for any.
        by_kind: the kind alone is enough, whatever the name.
    """

    kind: str = ""
    role: str = ""
    words: tuple[str, ...] = ()
    suffixes: tuple[str, ...] = ()
    by_kind: bool = False


@dataclass(frozen=True)
class Found:
    """A file that an item was told by.

    Args:
        path: its path.
        is_sure: it was told by what it is, and not by its name alone.
    """

    path: str
    is_sure: bool


_TABLES = (".csv", ".txt", ".tsv", ".xlsx", ".ods", ".pdf")
_MAPS = (".geojson", ".json", ".shp", ".gpkg", ".dxf", ".kml", ".csv")
_PAGES = (".pdf", ".html", ".htm", ".docx", ".md", ".odt", ".txt")
_PICTURES = ("ortho", "rgb", "photo", "intensity")
_TILES = ItemKind(kind="points", by_kind=True)
_RASTER = ItemKind(kind="raster", by_kind=True)
ITEMS = {
    "tiles": _TILES,
    "points": _TILES,
    "point-cloud": _TILES,
    "dtm": ItemKind("raster", words=("dtm", "dem", "ground", "terrain")),
    "dem": ItemKind("raster", words=("dem", "dtm", "ground", "terrain")),
    "dsm": ItemKind("raster", words=("dsm", "surface")),
    "raster": _RASTER,
    "checkpoint-table": ItemKind(
        "", str(Role.CHECKPOINTS), ("check", "residual"), _TABLES, by_kind=True
    ),
    "control-table": ItemKind("", str(Role.CONTROL), ("control",), _TABLES, by_kind=True),
    "tile-index": ItemKind("", "", ("index",), _MAPS),
    "trajectory": ItemKind("", str(Role.TRAJECTORY), ("traj", "track", "sbet"), by_kind=True),
    "boundary": ItemKind("", str(Role.BOUNDARY), ("boundary", "site", "outline"), _MAPS),
    "report": ItemKind("", "", ("report",), _PAGES),
    "metadata": ItemKind("", "", ("metadata", "iso19115"), (".xml", ".json", ".txt", ".html")),
    "manifest": ItemKind("", "", ("manifest",), ()),
}


def find_item(name: str, evidence: Evidence) -> tuple[Found, ...] | None:
    """Return the files that an item can be; None for an item that nothing is known of.

    Args:
        name: as the specification writes it; blanks and underscores count as hyphens.
        evidence: what is delivered and registered.
    """
    key = re.sub(r"[\s_]+", "-", name.strip().lower())
    wanted = ITEMS.get(key)
    if wanted is None:
        words = tuple(filter(None, re.split(r"[^a-z0-9]+", key)))
        named = [file for file in evidence.files if _has_all(file, words)]
        return tuple(Found(file.path, is_sure=False) for file in named) if named else None
    found = [_match(file, wanted, evidence) for file in evidence.files]
    known = tuple(each for each in found if each is not None)
    if not known and wanted.kind == "raster" and any(map(_may_be_any, evidence.files)):
        return None
    return known


def _may_be_any(file: DeliveredFile) -> bool:
    """Say whether a file is a raster of which not even the name tells what it shows."""
    words = {word for item in ITEMS.values() if item.kind == "raster" for word in item.words}
    name = PurePosixPath(file.path).name.lower()
    return file.kind == "raster" and not any(word in name for word in (*words, *_PICTURES))


def _has_all(file: DeliveredFile, words: tuple[str, ...]) -> bool:
    name = PurePosixPath(file.path).name.lower()
    return bool(words) and all(word in name for word in words)


def _match(file: DeliveredFile, wanted: ItemKind, evidence: Evidence) -> Found | None:
    path = PurePosixPath(file.path)
    record = evidence.registered.get(file.sha256)
    role = record.role if record is not None else ""
    if wanted.role and role == wanted.role:
        return Found(file.path, is_sure=True)
    if wanted.kind and file.kind != wanted.kind:
        return None
    if wanted.kind and wanted.by_kind:
        return Found(file.path, is_sure=True)
    if wanted.suffixes and path.suffix.lower() not in wanted.suffixes:
        return None
    if any(word in path.name.lower() for word in wanted.words):
        return Found(file.path, is_sure=bool(wanted.kind))
    return None
