"""What a coordinate reference system says, part by part, in the terms of ISO 19111.

Plain values only, so that checks can compare parts without a geodesy library.
"""

from __future__ import annotations

from enum import StrEnum

from ledger.dataclass import dataclass
from ledger.units import Unit


class CrsKind(StrEnum):
    """The kind of the horizontal part."""

    PROJECTED = "projected"
    GEOGRAPHIC = "geographic"
    GEOCENTRIC = "geocentric"
    ENGINEERING = "engineering"
    NONE = "none"


@dataclass(frozen=True)
class VerticalCrs:
    """The vertical part.

    Args:
        name: name as written.
        datum: name of the vertical datum.
        code: authority code (`EPSG:5703`), empty for none.
        unit: linear unit; None when it is not one of the known ones.
        metres_per_unit: size of the unit; None when not stated.
        geoid: geoid named inside the CRS, empty for none.
        is_ellipsoidal: heights above the ellipsoid (a 3D geographic CRS).
    """

    name: str
    datum: str = ""
    code: str = ""
    unit: Unit | None = None
    metres_per_unit: float | None = None
    geoid: str = ""
    is_ellipsoidal: bool = False


@dataclass(frozen=True)
class Area:
    """Area of use, degrees, west may be greater than east across the antimeridian."""

    west: float
    south: float
    east: float
    north: float

    @property
    def width(self) -> float:
        """Return the width in degrees of longitude; 360 for the whole Earth."""
        width = (self.east - self.west) % 360.0
        return 360.0 if width == 0 and self.east != self.west else width

    def measure_outside(self, lon: float, lat: float) -> float:
        """Return by how many degrees a position lies outside; 0 inside.

        Args:
            lon: degrees east, any number of turns.
            lat: degrees north.
        """
        past = (lon - self.west) % 360.0
        aside = 0.0 if past <= self.width else min(past - self.width, 360.0 - past)
        return max(aside, self.south - lat, lat - self.north, 0.0)


@dataclass(frozen=True)
class Crs:
    """A coordinate reference system as understood.

    Args:
        name: name as written.
        kind: kind of the horizontal part.
        code: authority code of the horizontal part (`EPSG:6346`), empty for none.
        datum: name of the datum (`NAD83 (National Spatial Reference System 2011)`).
        datum_code: authority code of the datum or ensemble, empty for none.
        ellipsoid: name of the ellipsoid.
        semi_major_m: semi-major axis, metres.
        inverse_flattening: 1/f, 0 for a sphere.
        projection: name of the projection method, empty when not projected.
        parameters: name and value of each projection parameter, SI units and degrees, sorted.
        utm_zone: `17N`, empty when it is not a UTM zone.
        unit: linear unit of the axes; None for degrees or an unknown unit.
        metres_per_unit: size of the axis unit; None for angular axes.
        vertical: the vertical part, None when there is none.
        area: area of use, None when not known.
        axes_reversed: axis order is northing or latitude first by definition.
        dialect: `WKT1`, `WKT2`, `GeoTIFF` or `code`: how it was written.
        wkt: WKT2 text, which a coordinate library can take up again.
    """

    name: str
    kind: CrsKind
    code: str = ""
    datum: str = ""
    datum_code: str = ""
    ellipsoid: str = ""
    semi_major_m: float = 0.0
    inverse_flattening: float = 0.0
    projection: str = ""
    parameters: tuple[tuple[str, float], ...] = ()
    utm_zone: str = ""
    unit: Unit | None = None
    metres_per_unit: float | None = None
    vertical: VerticalCrs | None = None
    area: Area | None = None
    axes_reversed: bool = False
    dialect: str = ""
    wkt: str = ""


@dataclass(frozen=True)
class CrsRecord:
    """One CRS record of a file: absent, unreadable, or understood. Three different things.

    Args:
        present: whether the record is in the file.
        crs: what was understood; None when absent or unreadable.
        fault: why it could not be understood; empty otherwise.
        text: the record as written, for the book and for comparing texts.
        notes: contradictions inside the record, one sentence each.
    """

    present: bool
    crs: Crs | None = None
    fault: str = ""
    text: str = ""
    notes: tuple[str, ...] = ()


@dataclass(frozen=True)
class CrsReading:
    """Both CRS records of a point file, read separately.

    Args:
        wkt: the WKT record.
        geotiff: the GeoTIFF keys.
        governing: the one that counts by the file's own flag: WKT when its bit is set or no
            GeoTIFF keys are present, else GeoTIFF; an absent record when the file has none.
    """

    wkt: CrsRecord
    geotiff: CrsRecord
    governing: CrsRecord


@dataclass(frozen=True)
class CrsDifference:
    """One part in which two systems differ.

    Args:
        part: `datum`, `ellipsoid`, `projection`, `zone`, `unit`, `kind`, `vertical datum`,
            `vertical unit`, `geoid`.
        a: value of the first, as text.
        b: value of the second, as text.
    """

    part: str
    a: str
    b: str


@dataclass(frozen=True)
class FrameShift:
    """Coordinates of one mark in one frame less those in another.

    Args:
        east_m: towards true east, metres.
        north_m: towards true north, metres.
        up_m: along the normal of the ellipsoid, metres.
        operation: the registered operations behind it, by their names.
        accuracy_m: accuracy of the operation as the registry has it.
    """

    east_m: float
    north_m: float
    up_m: float
    operation: str
    accuracy_m: float
