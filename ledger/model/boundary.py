"""The outline of the site, in the coordinate system that the job asks for."""

from __future__ import annotations

from ledger.dataclass import dataclass

Ring = tuple[tuple[float, float], ...]
Polygon = tuple[Ring, ...]


@dataclass(frozen=True)
class Boundary:
    """The area that a delivery has to cover.

    Args:
        path: the file as `job.toml` names it.
        sha256: digest of its bytes.
        polygons: each an outer ring and its holes, closed, X and Y in the specified horizontal
            system and its unit; empty where the file could not be placed.
        fault: why it could not be placed; empty otherwise.
    """

    path: str
    sha256: str
    polygons: tuple[Polygon, ...] = ()
    fault: str = ""

    @property
    def box(self) -> tuple[float, float, float, float]:
        """Return least X and Y, greatest X and Y; there has to be a polygon."""
        xs, ys = zip(*(place for polygon in self.polygons for place in polygon[0]), strict=True)
        return min(xs), min(ys), max(xs), max(ys)
