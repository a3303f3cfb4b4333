"""What the specification asks for, understood before any file is read."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from ledger.audit.criteria import SpecificationText
from ledger.contract.guard import describe_fault
from ledger.crs import describe
from ledger.errors import CrsError, Fault, SpecificationError, SwathbookError
from ledger.fixity import read_fixity
from ledger.model.georeferencing import Crs
from ledger.model.specification import Specification
from ledger.specfile.lines import locate


@dataclass(frozen=True)
class Specified:
    """What the specification names.

    Args:
        horizontal: its horizontal CRS; None when blank.
        vertical: its vertical CRS; None when blank.
        geoid_sha256: digest of its geoid grid; empty when blank or not found.
        geoid_grid: absolute path of the grid; empty when blank or not found.
    """

    horizontal: Crs | None
    vertical: Crs | None
    geoid_sha256: str
    geoid_grid: str


def read_specified(specification: Specification, source: SpecificationText, job: Path) -> Specified:
    """Return what the specification names.

    Raises:
        SpecificationError: a coordinate system in it is unknown, with every such fault.
    """
    faults: list[Fault] = []
    systems: list[Crs | None] = []
    for key in ("horizontal", "vertical_crs"):
        text = getattr(specification.coordinates, key)
        try:
            system = None if text is None else describe(text)
            systems.append(system)
            if key == "vertical_crs" and system is not None and system.vertical is None:
                faults.append(_refuse_flat(system, text, source))
        except CrsError as error:
            systems.append(None)
            faults.append(_explain(error, key, text, source))
    if faults:
        raise SpecificationError.from_faults(tuple(faults))
    sha256, grid = _find_grid(specification, job)
    return Specified(systems[0], systems[1], sha256, grid)


def _refuse_flat(system: Crs, text: str, source: SpecificationText) -> Fault:
    return Fault(
        f"coordinates.vertical_crs names a system without heights ({system.name})",
        found=text if len(text) < 40 else f"{text[:40]}…",
        expected="a vertical system, such as EPSG:5703",
        where=source.where,
        line=locate(source.text, ("coordinates", "vertical_crs")),
        remedy="name the height system; leave it out for site heights",
    )


def _explain(error: CrsError, key: str, text: str, source: SpecificationText) -> Fault:
    path = ("coordinates", key)
    return Fault(
        f"coordinates.{key} cannot be understood ({describe_fault(error)})",
        found=text if len(text) < 40 else f"{text[:40]}…",
        expected="EPSG:number, or WKT",
        where=source.where,
        line=locate(source.text, path),
    )


def _find_grid(specification: Specification, job: Path) -> tuple[str, str]:
    geoid = specification.coordinates.geoid
    if geoid is None or geoid.file is None:
        return "", ""
    grid = job / geoid.file
    try:
        return read_fixity(grid).sha256, str(grid.absolute())
    except SwathbookError:
        return "", ""  # a grid that is not there is a finding of the checks that need it
