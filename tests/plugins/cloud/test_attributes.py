"""Attributes counted together: the same whatever the order, and once for all checks."""

from __future__ import annotations

import numpy as np
from made_cloud import make_points

from ledger.testing import check_tally_laws
from lidar_checks.cloud.attributes import AttributeSummary, AttributeTally
from lidar_checks.cloud.classification import Classification
from lidar_checks.cloud.scan_angles import ScanAngles


def count(**given: object) -> AttributeSummary:
    """Return the summary of a few points with these fields."""
    tally = AttributeTally()
    tally.chunk(make_points(np.arange(4.0), np.arange(4.0), **given))
    return tally.close()


def test_classes_are_counted_with_their_flags() -> None:
    """Each flag finds the classes of its own points, and only those."""
    summary = count(
        classification=[2, 2, 7, 255],
        withheld=[False, True, True, False],
        overlap=[False, True, False, True],
    )
    assert summary.histogram == {2: 2, 7: 1, 255: 1}
    assert summary.count_flagged("withheld") == {2: 1, 7: 1}
    assert summary.count_flagged("overlap") == {2: 1, 255: 1}
    assert summary.count_flagged("synthetic") == {}
    assert summary.has_overlap_flag


def test_angles_keep_their_sign_and_their_ends() -> None:
    """Both ends of the stored number come back as they were, in either point format."""
    ends = [-32768, -1, 0, 32767]
    assert count(scan_angle=ends).angles == dict.fromkeys(ends, 1)
    assert count(scan_angle_rank=[-128, 0, 0, 127]).angles == {-128: 1, 0: 2, 127: 1}


def test_without_flags_and_angles_nothing_is_made_up() -> None:
    """A format without overlap flag and a pass without angles say so."""
    summary = count()
    assert (summary.angles, summary.has_overlap_flag) == ({}, False)


def test_the_tally_keeps_the_laws() -> None:
    """Cutting, order, merging and pickling leave every count as it is."""
    random = np.random.default_rng(5)
    place = np.arange(600.0)
    points = make_points(
        place,
        place,
        return_number=random.integers(0, 16, 600),
        number_of_returns=random.integers(0, 16, 600),
        classification=random.integers(0, 256, 600),
        withheld=random.integers(0, 2, 600),
        synthetic=random.integers(0, 2, 600),
        overlap=random.integers(0, 2, 600),
        key_point=random.integers(0, 2, 600),
        scan_angle=random.integers(-32768, 32768, 600),
    )
    check_tally_laws(Classification(), [points])
    check_tally_laws(ScanAngles(), [points])
