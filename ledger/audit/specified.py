"""What the specification asks for, understood before any file is read."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from ledger.audit.boundary import read_boundary
from ledger.audit.contradictions import REMEDY, find_contradictions
from ledger.crs import describe
from ledger.dataclass import dataclass
from ledger.errors import CrsError, SwathbookError
from ledger.fixity import read_fixity
from ledger.model.boundary import Boundary
from ledger.model.georeferencing import Crs, CrsKind
from ledger.model.specification import Specification
from ledger.specfile.faults import FaultList
from ledger.specfile.text import shorten


@dataclass(frozen=True)
class Specified:
    """What the specification names.

    Args:
        horizontal: its horizontal CRS; None when blank.
        vertical: its vertical CRS; None when blank.
        geoid_sha256: digest of its geoid grid; empty when blank or not found.
        geoid_grid: absolute path of the grid; empty when blank or not found.
        boundary: the outline of the site; None when blank or not found.
    """

    horizontal: Crs | None
    vertical: Crs | None
    geoid_sha256: str = ""
    geoid_grid: str = ""
    boundary: Boundary | None = None


def read_specified(specification: Specification, faults: FaultList) -> Specified:
    """Return the systems that the specification names; they count only where no fault was added.

    Args:
        specification: `job.toml` as read.
        faults: the faults of the file so far; those of its coordinate systems are added.
    """
    coordinates = specification.coordinates
    horizontal = _read_system("horizontal", coordinates.horizontal, faults)
    vertical = _read_system("vertical_crs", coordinates.vertical_crs, faults)
    if horizontal is not None and horizontal.kind is CrsKind.NONE:
        faults.add(
            ("coordinates", "horizontal"),
            f"names a system of heights alone ({horizontal.name})",
            found=shorten(str(coordinates.horizontal)),
            expected="a horizontal system, such as EPSG:6346",
            remedy="write it as vertical_crs",
        )
    if vertical is not None and vertical.vertical is None:
        faults.add(
            ("coordinates", "vertical_crs"),
            f"names a system without heights ({vertical.name})",
            found=shorten(str(coordinates.vertical_crs)),
            expected="a vertical system, such as EPSG:5703",
            remedy="name the height system; leave it out for site heights",
        )
    for each in find_contradictions(coordinates, horizontal, vertical):
        faults.add(each.path, each.what, found=each.found, expected=each.expected, remedy=REMEDY)
    return Specified(horizontal, vertical)


def _read_system(key: str, text: str | None, faults: FaultList) -> Crs | None:
    if text is None:
        return None
    try:
        return describe(text)
    except CrsError as error:
        (fault,) = error.faults[:1]
        faults.add(
            ("coordinates", key),
            f"cannot be understood: {fault.what}",
            found=shorten(fault.found or text),
            expected=fault.expected,
            remedy=fault.remedy or "give an EPSG code such as EPSG:6346, or the WKT text",
        )
        return None


def add_files(specified: Specified, specification: Specification, job: Path) -> Specified:
    """Return the same with what stands in files that the specification names.

    Args:
        specified: what was named.
        specification: `job.toml` as read.
        job: the job folder, absolute.

    Raises:
        UnreadableFileError: the boundary holds no polygons.
        SpecificationError: its coordinates are not what they have to be.
    """
    boundary = read_boundary(specification, specified.horizontal, job)
    return replace(_add_grid(specified, specification, job), boundary=boundary)


def _add_grid(specified: Specified, specification: Specification, job: Path) -> Specified:
    """Return the same with the geoid grid, whose bytes are read."""
    geoid = specification.coordinates.geoid
    if geoid is None or geoid.file is None:
        return specified
    grid = job / geoid.file
    try:
        sha256 = read_fixity(grid).sha256
    except SwathbookError:
        return specified  # the audit itself tells of a grid that is not there
    return replace(specified, geoid_sha256=sha256, geoid_grid=str(grid.absolute()))
