"""What the job asks for, where it may be written in more than one place."""

from __future__ import annotations

from ledger.contract.evidence import Evidence
from ledger.model.georeferencing import VerticalCrs

# Keys of job.toml that may name the system of heights.
VERTICAL_KEYS = ("coordinates.vertical_crs", "coordinates.horizontal")


def find_specified_vertical(evidence: Evidence) -> VerticalCrs | None:
    """Return the vertical CRS that the job asks for: its own key, or part of the horizontal one."""
    for crs in (evidence.specified_vertical, evidence.specified_crs):
        if crs is not None and crs.vertical is not None:
            return crs.vertical
    return None


def list_stated(evidence: Evidence, *keys: str) -> tuple[str, ...]:
    """Return those keys of `job.toml` that are filled in.

    Args:
        evidence: the evidence.
        keys: dotted keys of the coordinates section, `coordinates.unit.vertical`.
    """
    return tuple(key for key in keys if _find_value(evidence, key) is not None)


def _find_value(evidence: Evidence, key: str) -> object:
    value: object = evidence.specification
    for part in key.split("."):
        value = getattr(value, part, None)
    return value
