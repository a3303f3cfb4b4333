"""What the headers of delivered files say, as operands of rules about the run that made them."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace

from ledger.contract.evidence import DeliveredFile
from ledger.crs import compare
from ledger.model.georeferencing import Crs, CrsKind
from ledger.model.header import LasHeader
from ledger.model.known import KnownBy, KnownValue
from lidar_checks.settings.systems import System

Found = tuple[str, KnownValue | None]


def find_system(files: Sequence[DeliveredFile], recorded: KnownValue | None) -> Found:
    """Return path and system of the file whose header differs from what the run recorded.

    Where none differs, of the first; no value where no file has a readable header.
    """
    stated = [(file.path, crs) for file in files if (crs := _find_crs(file)) is not None]
    system = recorded.value if recorded is not None else None
    known = system.crs if isinstance(system, System) else None
    differing = [
        (path, crs)
        for path, crs in stated
        if known is not None and compare(_flatten(known), _flatten(crs))
    ]
    for path, crs in (*differing, *stated):
        return path, KnownValue(System(crs.name, crs), known_by=KnownBy.READ)
    return "", None


def find_scale(files: Sequence[DeliveredFile], recorded: KnownValue | None) -> Found:
    """Return path and coarsest step of the coordinates in metres, of all files in known units."""
    del recorded
    steps = [
        (step, file.path)
        for file in files
        if file.header is not None and (step := _find_step(file.header, _find_crs(file)))
    ]
    if not steps:
        return "", None
    step, path = max(steps)
    return path, KnownValue(f"{step:.9g}", "m", KnownBy.READ)


def _find_step(header: LasHeader, crs: Crs | None) -> float:
    if crs is None or crs.kind is not CrsKind.PROJECTED or crs.metres_per_unit is None:
        return 0.0
    height = crs.vertical.metres_per_unit if crs.vertical is not None else None
    x, y, z = header.scale
    return max(
        x * crs.metres_per_unit, y * crs.metres_per_unit, z * (height or crs.metres_per_unit)
    )


def _find_crs(file: DeliveredFile) -> Crs | None:
    return file.crs.governing.crs if file.crs is not None else None


def _flatten(crs: Crs) -> Crs:
    return replace(crs, vertical=None)


FILE_FACTS: Mapping[str, Callable[[Sequence[DeliveredFile], KnownValue | None], Found]] = {
    "files.system": find_system,
    "files.scale": find_scale,
}
