"""The profiles of the package, and tables of published numbers typed from their documents.

Not from the files: USGS 3DEP Lidar Base Specification 2025 rev. A, tables 1, 2 and 4; ASPRS
Positional Accuracy Standards, Edition 2, section 7.4.
"""

from __future__ import annotations

from decimal import Decimal

from ledger.contract.profile import Clause, Profile
from lidar_checks.profiles.files import list_profiles

EDITIONS = ("usgs-lbs-1-3", "usgs-lbs-2023a", "usgs-lbs-2024a", "usgs-lbs-2025a")


# Table 1: pulses per m² and spacing in m. Table 2: smooth surface and swath overlap, m. Table 4.
LEVELS = {
    "ql0": ("8.0", "0.35", "0.03", "0.04", "0.050"),
    "ql1": ("8.0", "0.35", "0.06", "0.08", "0.100"),
    "ql2": ("2.0", "0.71", "0.06", "0.08", "0.100"),
    "ql3": ("0.5", "1.41", "0.12", "0.16", "0.200"),
}


# ASPRS classes, cm: largest step within a swath, RMSD and largest step between swaths, cm.
CLASSES = {
    "1": ("0.6", "0.8", "1.6"),
    "2.5": ("1.5", "2.0", "4.0"),
    "5": ("3.0", "4.0", "8.0"),
    "10": ("6.0", "8.0", "16.0"),
    "15": ("9.0", "12.0", "24.0"),
    "20": ("12.0", "16.0", "32.0"),
    "33.3": ("20.0", "26.7", "53.3"),
    "66.7": ("40.0", "53.3", "106.7"),
    "100": ("60.0", "80.0", "160.0"),
    "333.3": ("200.0", "266.7", "533.3"),
}


def read_all() -> dict[str, Profile]:
    """Return every profile of the package by id."""
    found = tuple(list_profiles())
    assert not [each for each in found if isinstance(each, Exception)]
    return {each.id: each for each in found if isinstance(each, Profile)}


PROFILES = read_all()


def find(profile: str, check: str, field: str) -> Clause | None:
    """Return a value of a profile; None where it has none."""
    return PROFILES[profile].criteria.get(check, {}).get(field)


def say(profile: str) -> str:
    """Return all that a profile asks for beside its criteria, as one text."""
    return "\n".join(each.phrase for each in PROFILES[profile].not_tested)


def states(profile: str, check: str, field: str, number: str, words: str) -> bool:
    """Say whether a number is a criterion of a profile, or told as not tested."""
    clause = find(profile, check, field)
    if clause is not None:
        return Decimal(str(clause.value)) == Decimal(number)
    return words in say(profile)
