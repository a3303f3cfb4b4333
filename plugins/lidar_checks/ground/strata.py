"""Which checkpoints stand on open ground and which in vegetation.

USGS Lidar Base Specification 2025 rev. A, "Checkpoints": bare and open ground, low grass and urban
areas are tested without vegetation; tall grass and crops, brush and short trees, and forest are
tested as vegetated. Words that it does not use are common practice, no source.
"""

from __future__ import annotations

from ledger.model.surveypoints import NONVEGETATED, VEGETATED

UNSAID = ""
"""Of a point of which nobody said what it stands on, or in words that are not known."""

# Looked for as parts of a stratum's words, the more special ones first.
_WORDS = (
    ("low grass", NONVEGETATED),
    ("short grass", NONVEGETATED),
    ("non-veg", NONVEGETATED),
    ("nonveg", NONVEGETATED),
    ("not veg", NONVEGETATED),
    ("unveg", NONVEGETATED),
    ("nva", NONVEGETATED),
    ("vva", VEGETATED),
    ("veget", VEGETATED),
    ("tall grass", VEGETATED),
    ("high grass", VEGETATED),
    ("weeds", VEGETATED),
    ("crop", VEGETATED),
    ("brush", VEGETATED),
    ("shrub", VEGETATED),
    ("scrub", VEGETATED),
    ("tree", VEGETATED),
    ("forest", VEGETATED),
    ("wood", VEGETATED),
    ("bare", NONVEGETATED),
    ("open", NONVEGETATED),
    ("urban", NONVEGETATED),
    ("hard", NONVEGETATED),
    ("paved", NONVEGETATED),
    ("asphalt", NONVEGETATED),
    ("concrete", NONVEGETATED),
    ("gravel", NONVEGETATED),
    ("road", NONVEGETATED),
    ("lawn", NONVEGETATED),
)


def find_stratum(words: str) -> str:
    """Return `nonvegetated`, `vegetated`, or empty for words that say neither."""
    said = " ".join(words.replace("_", " ").lower().split())
    return next((stratum for part, stratum in _WORDS if part in said), UNSAID)


def tell_stratum(stratum: str) -> str:
    """Return how a person calls the ground of some checkpoints, as it follows their number."""
    return {
        NONVEGETATED: "without vegetation",
        VEGETATED: "in vegetation",
    }.get(stratum, "on ground of which the table says nothing")
