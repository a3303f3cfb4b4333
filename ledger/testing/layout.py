"""How a tiny survey is stored: LAS version, point format, scale, CRS records, header texts.

Sources: ASPRS LAS 1.4 R15 (records `LASF_Projection` 2112 and 34735 to 34737); OGC 19-008r4
GeoTIFF 1.1 for the keys.
"""

from __future__ import annotations

import struct
from collections.abc import Mapping
from dataclasses import field
from datetime import date
from pathlib import Path
from typing import Any, Literal

import laspy
import numpy as np
import pyproj

from ledger.dataclass import dataclass
from ledger.testing.scene import Points

CrsRecords = Literal["wkt", "geotiff", "both", "none"]
GeoKeys = dict[int, int | float | str]

_COLOURS = ("red", "green", "blue", "nir")


@dataclass(frozen=True)
class Layout:
    """How the tiles are stored.

    Args:
        version: LAS version, `1.1` to `1.4`.
        point_format: point data record format, 0 to 10.
        compressed: LAZ instead of LAS.
        scale: scale of X and Y; and of Z when `scale_z` is None.
        scale_z: scale of Z.
        offset: X, Y, Z offset; None for the whole numbers below the first tile's corner.
        crs: a code (`EPSG:6346+5703`) or WKT that pyproj understands; what the records say.
        records: which CRS records are written; None for WKT in formats 6 and up, else GeoTIFF.
        wkt: text of the WKT record, instead of the one made from `crs`.
        wkt_version: dialect of the WKT made from `crs`, by pyproj's name.
        geo_keys: GeoTIFF keys, instead of those made from `crs`.
        adjusted_time: whether the GPS time flag claims adjusted standard time.
        software: generating software.
        system: system identifier.
        created: creation date; None to leave day and year at zero.
        file_source_id: file source id.
        extra: extra dimensions by name with numpy type (`{"Deviation": "uint16"}`).
    """

    version: str = "1.4"
    point_format: int = 6
    compressed: bool = True
    scale: float = 0.001
    scale_z: float | None = None
    offset: tuple[float, float, float] | None = None
    crs: str = "EPSG:6346+5703"
    records: CrsRecords | None = None
    wkt: str | None = None
    wkt_version: str = "WKT1_GDAL"
    geo_keys: GeoKeys | None = None
    adjusted_time: bool = True
    software: str = "Example Suite 3.2"
    system: str = "OTHER"
    created: date | None = date(2026, 5, 13)
    file_source_id: int = 0
    extra: Mapping[str, str] = field(default_factory=dict)

    @property
    def suffix(self) -> str:
        """Return the suffix of the files."""
        return ".laz" if self.compressed else ".las"

    @property
    def written_records(self) -> CrsRecords:
        """Return which CRS records are written."""
        if self.records is not None:
            return self.records
        return "wkt" if self.point_format >= 6 else "geotiff"

    def make_wkt(self) -> str:
        """Return the text of the WKT record."""
        if self.wkt is not None:
            return self.wkt
        return str(pyproj.CRS.from_user_input(self.crs).to_wkt(self.wkt_version))

    def make_geo_keys(self) -> GeoKeys:
        """Return the GeoTIFF keys: codes of both parts and their linear units."""
        if self.geo_keys is not None:
            return self.geo_keys
        whole = pyproj.CRS.from_user_input(self.crs)
        keys: GeoKeys = {1025: 1}
        for part in whole.sub_crs_list or [whole]:
            keys |= _describe_part(part)
        return keys


def _describe_part(part: pyproj.CRS) -> GeoKeys:
    code = part.to_epsg()
    if code is None:
        raise ValueError(f"{part.name} has no EPSG code: give geo_keys")
    # A part of a compound system does not carry the code of its unit; the system by code does.
    unit = int(pyproj.CRS.from_epsg(code).axis_info[0].unit_code)
    if part.is_vertical:
        return {4096: code, 4099: unit}
    if part.is_projected:
        return {1024: 1, 3072: code, 3076: unit}
    return {1024: 2, 2048: code, 2054: unit}


def write_points(path: Path, points: Points, layout: Layout) -> None:
    """Write one LAS or LAZ file.

    Args:
        path: where; its suffix is not looked at, `layout.compressed` counts.
        points: `x`, `y`, `z` in the units of the CRS, `scan_angle` in degrees, and LAS fields by
            name; fields that the point format does not have are left out.
        layout: how.
    """
    header = _make_header(points, layout)
    las = laspy.LasData(header)
    las.points = laspy.ScaleAwarePointRecord.zeros(len(points["x"]), header=header)
    _fill(las, points)
    with path.open("wb") as stream:
        las.write(stream, do_compress=layout.compressed, laz_backend=laspy.LazBackend.Lazrs)
    if layout.created is None:
        with path.open("r+b") as stream:
            stream.seek(90)
            stream.write(bytes(4))


def _make_header(points: Points, layout: Layout) -> Any:  # noqa: ANN401 - laspy has no types
    header = laspy.LasHeader(version=layout.version, point_format=layout.point_format)
    header.scales = np.array(
        [layout.scale, layout.scale, layout.scale if layout.scale_z is None else layout.scale_z]
    )
    header.offsets = np.array(layout.offset or _choose_offset(points))
    header.generating_software = layout.software
    header.system_identifier = layout.system
    header.file_source_id = layout.file_source_id
    if layout.created is not None:
        header.creation_date = layout.created
    header.global_encoding.gps_time_type = laspy.header.GpsTimeType(int(layout.adjusted_time))
    header.vlrs.extend(make_crs_records(layout))
    header.global_encoding.wkt = layout.written_records in {"wkt", "both"}
    for name, kind in layout.extra.items():
        header.add_extra_dim(laspy.ExtraBytesParams(name=name, type=kind))
    return header


def _choose_offset(points: Points) -> tuple[float, float, float]:
    if not len(points["x"]):
        return (0.0, 0.0, 0.0)
    return (
        float(np.floor(np.min(points["x"].astype(np.float64)))),
        float(np.floor(np.min(points["y"].astype(np.float64)))),
        0.0,
    )


def _fill(las: Any, points: Points) -> None:  # noqa: ANN401 - laspy has no types
    for axis, name in enumerate("xyz"):
        steps = (points[name].astype(np.float64) - las.header.offsets[axis]) / las.header.scales[
            axis
        ]
        las[name.upper()] = np.rint(steps).astype(np.int32)
    names = set(las.point_format.dimension_names)
    angle = points.get("scan_angle")
    if angle is not None and "scan_angle" in names:
        las["scan_angle"] = np.rint(angle.astype(np.float64) / 0.006).astype(np.int16)
    elif angle is not None:
        las["scan_angle_rank"] = np.rint(angle.astype(np.float64)).astype(np.int8)
    for name, array in points.items():
        if name in names and name != "scan_angle":
            las[name] = array
    for factor, name in enumerate(_COLOURS, start=1):
        if name in names and name not in points:
            las[name] = (np.arange(len(las.points)) * 257 * factor % 65_536).astype(np.uint16)


def make_crs_records(layout: Layout) -> list[Any]:
    """Return the CRS records as laspy's variable length records."""
    records: list[Any] = []
    if layout.written_records in {"geotiff", "both"}:
        records.extend(make_geo_key_records(layout.make_geo_keys()))
    if layout.written_records in {"wkt", "both"}:
        text = layout.make_wkt().encode("utf-8") + b"\0"
        records.append(laspy.VLR("LASF_Projection", 2112, "OGC coordinate system WKT", text))
    return records


def make_geo_key_records(keys: GeoKeys) -> list[Any]:
    """Return the key directory and, where keys need them, the double and the text record."""
    entries: list[tuple[int, int, int, int]] = []
    doubles: list[float] = []
    texts = ""
    for key, value in sorted(keys.items()):
        if isinstance(value, str):
            entries.append((key, 34737, len(value) + 1, len(texts)))
            texts += value + "|"
        elif isinstance(value, float):
            entries.append((key, 34736, 1, len(doubles)))
            doubles.append(value)
        else:
            entries.append((key, 0, 1, value))
    directory = struct.pack("<4H", 1, 1, 0, len(entries))
    directory += b"".join(struct.pack("<4H", *entry) for entry in entries)
    records = [laspy.VLR("LASF_Projection", 34735, "GeoKeyDirectoryTag", directory)]
    if doubles:
        body = struct.pack(f"<{len(doubles)}d", *doubles)
        records.append(laspy.VLR("LASF_Projection", 34736, "GeoDoubleParamsTag", body))
    if texts:
        body = texts.encode("ascii") + b"\0"
        records.append(laspy.VLR("LASF_Projection", 34737, "GeoAsciiParamsTag", body))
    return records
