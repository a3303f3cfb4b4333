"""All predictions of a job, from its own numbers."""

from __future__ import annotations

from lidar_checks.ground.causes.candidate import Predictions
from lidar_checks.ground.causes.predict_frames import predict_frames, predict_units
from lidar_checks.ground.causes.predict_heights import predict_heights
from lidar_checks.ground.causes.predict_patterns import predict_patterns
from lidar_checks.ground.causes.predict_setup import predict_setup
from lidar_checks.ground.causes.predict_turning import predict_turning
from lidar_checks.ground.causes.site_facts import SiteFacts


def predict(facts: SiteFacts) -> Predictions:
    """Return every candidate that the facts allow, and what they do not."""
    parts = (
        predict_heights,
        predict_frames,
        predict_units,
        predict_setup,
        predict_patterns,
        predict_turning,
    )
    return sum((part(facts) for part in parts), Predictions())
