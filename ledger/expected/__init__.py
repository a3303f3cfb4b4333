"""The numbers to expect at a place and on a day, before anything is processed.

Plain functions: each returns a number with its unit and how it is known, or a named reason why
there is none. They need no book, no job and no network. Checks may use them.
"""

from ledger.expected.feet import compute_misread_foot, find_foot_shift
from ledger.expected.fiveplaces import list_five_places, read_site_geoid
from ledger.expected.frames import (
    find_drift,
    find_frame,
    find_frame_shift,
    find_operation_accuracy,
    is_conversion,
)
from ledger.expected.geoids import (
    find_geoid_difference,
    find_geoid_height,
    find_geoid_heights,
    find_geoid_slope,
)
from ledger.expected.records import Expected, Place, Vector, to_epoch
from ledger.expected.scale import (
    find_combined_factor,
    find_convergence,
    find_elevation_factor,
    find_scale_factor,
)
from ledger.expected.times import find_leap_seconds, find_time_shift
from ledger.expected.zones import ZonePlace, find_zone, list_neighbours, place_in_zone

__all__ = [
    "Expected",
    "Place",
    "Vector",
    "ZonePlace",
    "compute_misread_foot",
    "find_combined_factor",
    "find_convergence",
    "find_drift",
    "find_elevation_factor",
    "find_foot_shift",
    "find_frame",
    "find_frame_shift",
    "find_geoid_difference",
    "find_geoid_height",
    "find_geoid_heights",
    "find_geoid_slope",
    "find_leap_seconds",
    "find_operation_accuracy",
    "find_scale_factor",
    "find_time_shift",
    "find_zone",
    "is_conversion",
    "list_five_places",
    "list_neighbours",
    "place_in_zone",
    "read_site_geoid",
    "to_epoch",
]
