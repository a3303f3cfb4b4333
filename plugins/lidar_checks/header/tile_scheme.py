"""Do tiles lie beside each other: by their boxes, before any point is read.

Whether points are in two tiles is told by the checks of points. Where job.toml states no tile size
and no buffer, files may be strips on purpose, and what overlaps is an observation.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from pydantic import Field

from ledger.contract.check import Check, Criteria, Plan
from ledger.contract.evidence import DeliveredFile, Evidence
from ledger.dataclass import dataclass
from ledger.model.audit import WHOLE_DELIVERY
from ledger.model.finding import Finding, Grade, Where
from ledger.model.georeferencing import CrsKind
from ledger.model.phrases import agree, count_things, tell_carried
from lidar_checks.header.box import Box, find_best_box
from lidar_checks.header.file_check import (
    SPECIFICATION_SOURCE,
    find_crs,
    name_source,
    require_criteria,
    tell_no_point_file,
)
from lidar_checks.header.tile_buffer import BUFFER_KEY, find_buffer_m, is_carried

_SIZE_KEY = "delivery.tile_size_m"
# Boxes that share more than half of the smaller one are strips or copies, not tiles.
_STRIPS = 0.5
_SHOWN = 3


class TileSchemeCriteria(Criteria):
    """How tiles may lie."""

    overlap_max_m: float = Field(
        default=0.5, ge=0, description="common practice, no source: points on the edge itself"
    )


@dataclass(frozen=True)
class _Tile:
    """A tile: path and box in metres."""

    path: str
    west: float
    south: float
    east: float
    north: float

    @property
    def area(self) -> float:
        return (self.east - self.west) * (self.north - self.south)


@dataclass(frozen=True)
class _Overlap:
    """Two tiles that share ground: by how many metres, and what share of the smaller one."""

    first: _Tile
    second: _Tile
    width: float
    share: float


class TileScheme(Check):
    """Boxes of tiles lie beside each other, each in its cell."""

    id = "tile-scheme"
    title = "Tiles lie beside each other without overlap, each no larger than asked"
    catalogue = ("FT-07",)
    specification_keys = (_SIZE_KEY, BUFFER_KEY)
    revision = 2
    criteria = TileSchemeCriteria

    def finish(
        self, plan: Plan, summaries: Mapping[str, Any], evidence: Evidence
    ) -> Iterator[Finding]:
        """Compare the boxes of all tiles."""
        del summaries
        if not evidence.point_files:
            yield tell_no_point_file(self, evidence)
            return
        tiles = [tile for file in evidence.point_files if (tile := _find_tile(file)) is not None]
        if not tiles:
            yield self.not_assessed(
                WHOLE_DELIVERY,
                "No file states a map projection with a unit and a box: tiles were not compared.",
                ("header CRS",),
            )
            return
        found = [
            *self._judge_sizes(tiles, plan, evidence),
            *self._judge_overlaps(tiles, plan, evidence),
        ]
        found += self._judge_holes(tiles, evidence)
        yield from found
        if not found:
            yield self._tell_beside(tiles, evidence)

    def _tell_beside(self, tiles: Sequence[_Tile], evidence: Evidence) -> Finding:
        """Return that nothing speaks against the tiles; what was only carried over proves none."""
        if len(tiles) < 2:
            sentence = "There is one file with points, so there is nothing to overlap."
            return self.conforms(WHOLE_DELIVERY, sentence)
        buffer = find_buffer_m(evidence)
        within = f", within the agreed buffer of {buffer:g} m" if buffer else ""
        sentence = f"The boxes of {count_things(len(tiles), 'file')} lie beside each other{within}."
        if is_carried(evidence):
            told, remedy = tell_carried([BUFFER_KEY])
            return self.inconclusive(WHOLE_DELIVERY, f"{sentence} {told}", remedy=remedy)
        return self.conforms(WHOLE_DELIVERY, sentence)

    def _judge_sizes(
        self, tiles: Sequence[_Tile], plan: Plan, evidence: Evidence
    ) -> Iterator[Finding]:
        """Yield the tiles that are larger than the job asks."""
        size = evidence.specification.delivery.tile_size_m
        if size is None:
            return
        asked = require_criteria(plan, TileSchemeCriteria)
        limit = size + 2 * find_buffer_m(evidence)
        for tile in tiles:
            extent = max(tile.east - tile.west, tile.north - tile.south)
            if extent > limit + asked.overlap_max_m:
                yield self.nonconforming(
                    Grade.MINOR,
                    tile.path,
                    f"{tile.path} is {extent:.2f} m wide by its header, the job asks for tiles of "
                    f"{limit:g} m.",
                    observed=f"{extent:.2f}",
                    required=f"{limit:g}",
                    unit="m",
                    criterion_source=f"{SPECIFICATION_SOURCE}, {_SIZE_KEY}",
                    remedy="Tile again, with no more of a buffer than was agreed, at the edges of "
                    "the job.",
                    where=Where(tile.path),
                )

    def _judge_overlaps(
        self, tiles: Sequence[_Tile], plan: Plan, evidence: Evidence
    ) -> Iterator[Finding]:
        asked = require_criteria(plan, TileSchemeCriteria)
        buffer = find_buffer_m(evidence)
        allowed = 2 * buffer + asked.overlap_max_m
        pairs = [each for each in find_overlaps(tiles) if each.width > allowed]
        if not pairs:
            return
        stated = buffer or evidence.specification.delivery.tile_size_m
        if not stated and max(each.share for each in pairs) > _STRIPS:
            yield self.inconclusive(
                WHOLE_DELIVERY,
                f"{_name_pairs(pairs)} cover each other by more than half, so these are no tiles; "
                "whether they may overlap cannot be told from headers.",
                remedy=f"Write {_SIZE_KEY} in job.toml where they should be tiles.",
            )
            return
        widest = max(pairs, key=lambda each: each.width)
        yield self.nonconforming(
            Grade.MINOR if stated else Grade.OBSERVATION,
            WHOLE_DELIVERY,
            f"{count_things(len(pairs), 'pair')} of files "
            f"{agree(len(pairs), 'overlaps', 'overlap')} by their headers, by up to "
            f"{widest.width:.2f} m: {_name_pairs(pairs)}.",
            observed=f"{widest.width:.2f}",
            required=f"at most {allowed:g}",
            unit="m",
            criterion_source=f"{SPECIFICATION_SOURCE}, {BUFFER_KEY}"
            if buffer
            else name_source(plan, "overlap_max_m"),
            remedy=f"Tile again with the buffer of {buffer:g} m that job.toml states."
            if buffer
            else "Tile again without a buffer, or write the buffer that the client wants in "
            f"job.toml ({BUFFER_KEY}).",
            where=Where(
                widest.first.path,
                xy=(
                    max(widest.first.west, widest.second.west),
                    max(widest.first.south, widest.second.south),
                ),
            ),
        )

    def _judge_holes(self, tiles: Sequence[_Tile], evidence: Evidence) -> Iterator[Finding]:
        """Yield the cells without a tile between four that have one."""
        size = evidence.specification.delivery.tile_size_m
        if size is None:
            return
        west, south = min(tile.west for tile in tiles), min(tile.south for tile in tiles)
        cells = {
            (
                int(((tile.west + tile.east) / 2 - west) // size),
                int(((tile.south + tile.north) / 2 - south) // size),
            )
            for tile in tiles
        }
        beside = ((1, 0), (-1, 0), (0, 1), (0, -1))
        around = {(x + dx, y + dy) for x, y in cells for dx, dy in beside}
        for x, y in sorted(around - cells):
            if all((x + dx, y + dy) in cells for dx, dy in beside):
                middle = (west + (x + 0.5) * size, south + (y + 0.5) * size)
                yield self.nonconforming(
                    Grade.OBSERVATION,
                    WHOLE_DELIVERY,
                    f"There is no tile at {middle[0]:.0f}, {middle[1]:.0f} m, and there is one on "
                    "each of its four sides.",
                    observed="no tile",
                    criterion_source=f"{SPECIFICATION_SOURCE}, {_SIZE_KEY}",
                    remedy="See whether a tile was left out; water may have no points.",
                    where=Where(cell=f"{x} {y}", xy=middle),
                )


def _find_tile(file: DeliveredFile) -> _Tile | None:
    """Return the box of a file in metres; None without a box or a linear unit."""
    crs, box = find_crs(file), find_best_box(file)
    if crs is None or box is None or crs.kind is not CrsKind.PROJECTED or not crs.metres_per_unit:
        return None
    return _scale(file.path, box, crs.metres_per_unit)


def _scale(path: str, box: Box, unit: float) -> _Tile:
    (west, south), (east, north) = box.low[:2], box.high[:2]
    return _Tile(path, west * unit, south * unit, east * unit, north * unit)


def find_overlaps(tiles: Sequence[_Tile]) -> list[_Overlap]:
    """Return the pairs of tiles whose boxes share ground, by a sweep from west to east."""
    found: list[_Overlap] = []
    open_tiles: list[_Tile] = []
    for tile in sorted(tiles, key=lambda each: (each.west, each.path)):
        open_tiles = [each for each in open_tiles if each.east > tile.west]
        for other in open_tiles:
            if tile.south >= other.north or other.south >= tile.north:
                continue  # as nearly all of a column do
            wide = min(tile.east, other.east) - tile.west
            high = min(tile.north, other.north) - max(tile.south, other.south)
            if wide > 0 and high > 0:
                least = min(tile.area, other.area)
                share = wide * high / least if least > 0 else 1.0
                found.append(_Overlap(other, tile, min(wide, high), share))
        open_tiles.append(tile)
    return sorted(found, key=lambda each: (-each.width, each.first.path, each.second.path))


def _name_pairs(pairs: Sequence[_Overlap]) -> str:
    named = ", ".join(f"{each.first.path} and {each.second.path}" for each in pairs[:_SHOWN])
    return named + (f" and {len(pairs) - _SHOWN} more" if len(pairs) > _SHOWN else "")
