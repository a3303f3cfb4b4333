"""The tiles of a survey on disk, and the two ways to alter one: its points, or its bytes."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any, Self

import numpy as np
from numpy.typing import NDArray

from ledger.testing.layout import Layout, write_points
from ledger.testing.scene import Points, Scene

Patch = Callable[[Path], None]
TileName = str | int


@dataclass
class Tile:
    """One file.

    Attributes:
        path: where it lies.
        points: what it holds: `x`, `y`, `z` in units of the CRS, and LAS fields by name.
        layout: how it is stored.
        patches: damage done to its bytes after writing, in order.
    """

    path: Path
    points: Points
    layout: Layout
    patches: list[Patch] = field(default_factory=list)

    def write(self) -> None:
        """Write the file and do the damage again."""
        write_points(self.path, self.points, self.layout)
        for patch in self.patches:
            patch(self.path)


class TileSet:
    """The tiles of a survey in one folder.

    Tiles are named `tile_COLUMN_ROW.laz` and stand in the order of their names. Every method that
    takes a tile takes its name, its name without the suffix, or its place in that order.
    """

    def __init__(
        self, folder: Path, layout: Layout | None = None, scene: Scene | None = None
    ) -> None:
        """Write the survey.

        Args:
            folder: where; made when absent.
            layout: how the tiles are stored.
            scene: what was flown.
        """
        self.folder = folder
        self.scene = scene if scene is not None else Scene()
        layout = layout if layout is not None else Layout()
        folder.mkdir(parents=True, exist_ok=True)
        self._tiles: dict[str, Tile] = {}
        for column in range(self.scene.columns):
            for row in range(self.scene.rows):
                name = f"tile_{column}_{row}{layout.suffix}"
                points = self.scene.make_tile(column, row)
                self._keep(Tile(folder / name, points, layout))

    def _keep(self, tile: Tile) -> None:
        self._tiles[tile.path.name] = tile
        tile.write()

    @property
    def paths(self) -> tuple[Path, ...]:
        """Return the paths of all tiles, by name."""
        return tuple(self._tiles[name].path for name in sorted(self._tiles))

    def tile(self, tile: TileName = 0) -> Tile:
        """Return one tile.

        Raises:
            KeyError: no tile of that name.
        """
        if isinstance(tile, int):
            return self._tiles[sorted(self._tiles)[tile]]
        for name, kept in self._tiles.items():
            if tile in {name, Path(name).stem}:
                return kept
        raise KeyError(tile)

    def path(self, tile: TileName = 0) -> Path:
        """Return the path of one tile."""
        return self.tile(tile).path

    def add_tile(self, name: str, points: Points, layout: Layout | None = None) -> Self:
        """Write one more tile.

        Args:
            name: file name with suffix.
            points: `x`, `y`, `z` in units of the CRS, and LAS fields by name, each (n,).
            layout: how it is stored; None for the layout of the first tile.
        """
        chosen = layout if layout is not None else self.tile(0).layout
        self._keep(Tile(self.folder / name, points, chosen))
        return self

    def add_document(self, name: str, content: bytes = b"") -> Path:
        """Write another file into the folder and return its path; `name` may have folders."""
        path = self.folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content)
        return path

    def remove(self, tile: TileName) -> Self:
        """Remove one tile."""
        path = self.path(tile)
        path.unlink()
        del self._tiles[path.name]
        return self

    def edit_points(self, tile: TileName, edit: Callable[[Points], Points | None]) -> Self:
        """Alter the points of a tile and write it again.

        Args:
            tile: which.
            edit: alters the mapping it is given, or returns another one.
        """
        kept = self.tile(tile)
        points = {name: array.copy() for name, array in kept.points.items()}
        edited = edit(points)
        kept.points = edited if edited is not None else points
        kept.write()
        return self

    def keep_points(self, tile: TileName, chosen: NDArray[Any]) -> Self:
        """Keep the points that `chosen` names, as a mask or by index, in that order."""
        return self.edit_points(
            tile, lambda points: {name: array[chosen] for name, array in points.items()}
        )

    def set_layout(self, tile: TileName, **changes: Any) -> Self:  # noqa: ANN401 - fields of Layout
        """Store a tile in another way; `changes` are fields of `Layout`."""
        kept = self.tile(tile)
        kept.layout = replace(kept.layout, **changes)
        wanted = kept.path.with_suffix(kept.layout.suffix)
        if wanted != kept.path:
            kept.path.unlink()
            del self._tiles[kept.path.name]
            kept.path = wanted
            self._tiles[wanted.name] = kept
        kept.write()
        return self

    def damage(self, tile: TileName, patch: Patch) -> Self:
        """Damage the bytes of a tile; the damage is done again whenever the tile is written.

        Args:
            tile: which.
            patch: alters the file at the path it is given.
        """
        kept = self.tile(tile)
        kept.patches.append(patch)
        patch(kept.path)
        return self

    def count_points(self) -> int:
        """Return the number of points that were put into all tiles."""
        return sum(len(tile.points["x"]) for tile in self._tiles.values())

    def choose(self, tile: TileName, share: float, seed: int = 7) -> NDArray[np.bool_]:
        """Return a mask over the points of a tile that is true for about `share` of them."""
        count = len(self.tile(tile).points["x"])
        return np.random.default_rng(seed).random(count) < share
