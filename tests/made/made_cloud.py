"""Small point clouds made by hand, tile by tile, with headers that fit them."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import laspy
import numpy as np
from numpy.typing import NDArray

from ledger.contract.check import Finding, PointCheck, Raster
from ledger.contract.evidence import DeliveredFile, Evidence
from ledger.contract.rasters import require_raster
from ledger.model.chunk import PointChunk
from ledger.model.georeferencing import Crs, CrsKind, CrsReading, CrsRecord, VerticalCrs
from ledger.model.header import LasHeader
from ledger.model.specification import Specification
from ledger.testing import drive_check, fill_tally, make_chunk, make_evidence, make_file
from ledger.testing.driver import prepare_check
from ledger.units import METRE, Unit

Floats = NDArray[np.float64]
Ground = Callable[[Floats, Floats], Floats]
Box = tuple[float, float, float, float]

ORIGIN = (552_000.0, 4_272_000.0)
CLOUD_FIELDS = (
    "return_number",
    "number_of_returns",
    "classification",
    "withheld",
    "gps_time",
    "point_source_id",
)

# Fields that points made here have only where they are given.
OTHER_FIELDS: dict[str, type[np.generic]] = {
    "synthetic": np.bool_,
    "key_point": np.bool_,
    "overlap": np.bool_,
    "scan_angle": np.int16,
    "scan_angle_rank": np.int8,
}


def make_header(
    box: Box = (0.0, 0.0, 0.0, 0.0), *, point_format: int = 6, encoding: int = 17, count: int = 0
) -> LasHeader:
    """Return a header that states a box west, south, east, north."""
    return LasHeader(
        version="1.4" if point_format > 5 else "1.2",
        point_format=point_format,
        compressed=True,
        copc=False,
        record_length=30,
        point_count=count,
        legacy_count=0,
        by_return=(),
        legacy_by_return=(),
        scale=(0.001, 0.001, 0.001),
        offset=(0.0, 0.0, 0.0),
        minimum=(box[0], box[1], 0.0),
        maximum=(box[2], box[3], 0.0),
        global_encoding=encoding,
        file_source_id=0,
        system_identifier="",
        generating_software="",
        creation_day=0,
        creation_year=0,
        header_size=375,
        offset_to_points=375,
        file_size=375,
    )


def make_crs(
    unit: Unit | None = METRE,
    kind: CrsKind = CrsKind.PROJECTED,
    heights: Unit | None = None,
) -> CrsReading:
    """Return the CRS records of a file that states one CRS with these units."""
    vertical = VerticalCrs("heights", unit=heights) if heights is not None else None
    record = CrsRecord(True, Crs("plan", kind, unit=unit, vertical=vertical))
    return CrsReading(record, CrsRecord(False), record)


def make_specification(
    horizontal: str | None = None, vertical: str | None = None, **coordinates: Any
) -> Specification:
    """Return a specification that states the units of the deliverable."""
    units = {"horizontal": horizontal, "vertical": vertical}
    stated = {name: unit for name, unit in units.items() if unit is not None}
    return Specification.model_validate({"coordinates": {"unit": stated, **coordinates}})


def fill_fields(count: int, **given: Any) -> dict[str, Any]:
    """Return LAS fields of single ground returns, but for those given."""
    fields: dict[str, Any] = {
        "return_number": np.ones(count, dtype=np.uint8),
        "number_of_returns": np.ones(count, dtype=np.uint8),
        "classification": np.full(count, 2, dtype=np.uint8),
        "withheld": np.zeros(count, dtype=np.bool_),
        "gps_time": 3e8 + np.arange(count) * 1e-5,
        "point_source_id": np.ones(count, dtype=np.uint16),
    }
    for name, value in given.items():
        kind = fields[name].dtype if name in fields else OTHER_FIELDS[name]
        fields[name] = np.array(np.broadcast_to(value, count), dtype=kind)
    return fields


def make_points(x: Any, y: Any, z: Any = 0.0, **given: Any) -> PointChunk:
    """Return a chunk of points; `z` and fields may be one value for all."""
    x = np.asarray(x, dtype=np.float64)
    z = np.broadcast_to(np.asarray(z, dtype=np.float64), x.shape)
    return make_chunk({"x": x, "y": y, "z": z, **fill_fields(len(x), **given)})


def make_lattice_points(box: Box, spacing: float, z: float = 0.0, **given: Any) -> PointChunk:
    """Return points in rows and columns, each in the middle of its square of `spacing`."""
    xs = np.arange(box[0] + spacing / 2, box[2], spacing)
    ys = np.arange(box[1] + spacing / 2, box[3], spacing)
    x, y = (grid.reshape(-1) for grid in np.meshgrid(xs, ys))
    return make_points(x, y, z, **given)


def flat(x: Floats, y: Floats) -> Floats:
    """Return level ground."""
    return np.full_like(x, 100.0)


@dataclass
class Delivery:
    """Tiles with their points."""

    chunks: dict[str, PointChunk] = field(default_factory=dict)
    files: dict[str, DeliveredFile] = field(default_factory=dict)

    def add(self, path: str, chunk: PointChunk, box: Box | None = None, **parts: Any) -> None:
        """Add a tile; its header states the box of its points unless another is given."""
        if box is None:
            box = measure_box(chunk)
        parts.setdefault("header", make_header(box, count=len(chunk)))
        parts.setdefault("crs", make_crs())
        self.chunks[path] = chunk
        self.files[path] = make_file(path, **parts)

    def make_evidence(self, **parts: Any) -> Evidence:
        """Return the evidence about these tiles."""
        return make_evidence(*(self.files[path] for path in sorted(self.files)), **parts)

    def drive(
        self, check: PointCheck, criteria: Mapping[str, Any] | None = None, **parts: Any
    ) -> tuple[Finding, ...]:
        """Return what a check finds in these tiles."""
        chunks = {path: [chunk] for path, chunk in self.chunks.items()}
        return drive_check(check, self.make_evidence(**parts), chunks, criteria)

    def draw(
        self, check: PointCheck, criteria: Mapping[str, Any] | None = None, **parts: Any
    ) -> list[Raster]:
        """Return the maps that a check draws of these tiles."""
        evidence = self.make_evidence(**parts)
        plan = prepare_check(check, evidence, criteria)
        closed = {
            path: fill_tally(check, plan, self.files[path], [chunk]).close()
            for path, chunk in self.chunks.items()
        }
        return [
            require_raster(check.id, each)
            for each in check.finish(plan, closed, evidence)
            if isinstance(each, Raster)
        ]


def measure_box(chunk: PointChunk) -> Box:
    """Return west, south, east and north of the points; zeros for none."""
    if not len(chunk):
        return (0.0, 0.0, 0.0, 0.0)
    steps = chunk.lattice.steps_xy
    return (
        int(chunk.x.min()) / steps,
        int(chunk.y.min()) / steps,
        int(chunk.x.max()) / steps,
        int(chunk.y.max()) / steps,
    )


@dataclass(frozen=True)
class Site:
    """A site cut into square tiles.

    Args:
        columns: tiles from west to east.
        rows: tiles from south to north.
        size: side of a tile.
        density: points a square unit.
        ground: height of the ground at a place.
        noise: standard deviation of heights.
        raised: by how much a tile is raised, by column and row.
        buffer: how far tiles reach over their border; negative for a gap.
        seed: start of the random numbers.
    """

    columns: int = 3
    rows: int = 3
    size: float = 20.0
    density: float = 6.0
    ground: Ground = flat
    noise: float = 0.0
    raised: Mapping[tuple[int, int], float] = field(default_factory=dict)
    buffer: float = 0.0
    seed: int = 1

    def make_tile(self, column: int, row: int) -> PointChunk:
        """Return the points of one tile."""
        random = np.random.default_rng((self.seed, column, row))
        side = self.size + 2 * self.buffer
        count = int(self.density * side**2)
        x = ORIGIN[0] + column * self.size - self.buffer + random.uniform(0, side, count)
        y = ORIGIN[1] + row * self.size - self.buffer + random.uniform(0, side, count)
        z = self.ground(x, y) + random.normal(0, 1, count) * self.noise
        return make_points(x, y, z + self.raised.get((column, row), 0.0))

    def deliver(self, **parts: Any) -> Delivery:
        """Return all tiles, named by column and row."""
        delivery = Delivery()
        for column in range(self.columns):
            for row in range(self.rows):
                path = f"tile_{column}_{row}.laz"
                delivery.add(path, self.make_tile(column, row), **parts)
        return delivery


def read_open_file(path: Path, unit: Unit | None = METRE) -> Delivery:
    """Return one file of the open test data, read by the LAS library itself."""
    cloud = laspy.read(path)
    names = set(cloud.point_format.dimension_names)
    fields = {name: np.array(cloud[name]) for name in CLOUD_FIELDS if name in names}
    if fields["withheld"].dtype != np.bool_:
        fields["withheld"] = fields["withheld"].astype(np.bool_)
    chunk = make_chunk(
        {"x": np.array(cloud.x), "y": np.array(cloud.y), "z": np.array(cloud.z), **fields}
    )
    header = make_header(
        measure_box(chunk),
        point_format=cloud.header.point_format.id,
        encoding=cloud.header.global_encoding.value,
        count=len(chunk),
    )
    kind = CrsKind.PROJECTED if unit is not None else CrsKind.GEOGRAPHIC
    delivery = Delivery()
    delivery.add(path.name, chunk, header=header, crs=make_crs(unit, kind))
    return delivery
