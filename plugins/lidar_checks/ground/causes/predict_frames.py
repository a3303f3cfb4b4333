"""What a frame, an epoch or a foot of the wrong kind leaves in the residuals.

US survey foot 1200/3937 m, international foot 0.3048 m (NIST SP 811, appendix B.6): a coordinate
read in the wrong one is off by 2 millionths of itself.
"""

from __future__ import annotations

from fractions import Fraction

import numpy as np

from ledger.units import LINEAR_UNITS
from lidar_checks.ground.causes.candidate import Candidate, LeftOut, Predictions, Reading
from lidar_checks.ground.causes.observed import Floats
from lidar_checks.ground.causes.site_facts import Drift, FrameShift, SiteFacts

# How well shifts are known (common practice, no source).
SIGMA_FRAME_M = 0.03
SIGMA_DRIFT_M = 0.02
SIGMA_FOOT_M = 0.001
SIGMA_FEET_HEIGHT_M = 0.03
# Frames nearer than this on the whole site cannot be told apart here.
SAME_SHIFT_M = 0.02

_SURVEY_FOOT = LINEAR_UNITS["us-survey-foot"].factor
_FOOT = LINEAR_UNITS["international-foot"].factor
_TOPICS = ("frame-chain",)
_MARK = "measure one mark whose coordinates in both frames are published"


def predict_frames(facts: SiteFacts) -> Predictions:
    """Return what frames and epochs would leave."""
    left_out = []
    if not facts.frames:
        left_out.append(LeftOut("another frame", facts.tell_missing("frames")))
    if not facts.drifts:
        left_out.append(LeftOut("another epoch", facts.tell_missing("drifts")))
    candidates = [
        candidate
        for group in _group_frames(facts.frames)
        for candidate in _make_frame_candidates(group)
    ]
    candidates += [_make_drift_candidate(drift) for drift in facts.drifts]
    return Predictions(tuple(candidates), left_out=tuple(left_out))


def _group_frames(frames: tuple[FrameShift, ...]) -> list[list[FrameShift]]:
    groups: list[list[FrameShift]] = []
    for frame in frames:
        for group in groups:
            if float(np.abs(group[0].shift - frame.shift).max()) < SAME_SHIFT_M:
                group.append(frame)
                break
        else:
            groups.append([frame])
    return groups


def _make_frame_candidates(group: list[FrameShift]) -> list[Candidate]:
    first = group[0]
    names = " or ".join(dict.fromkeys(frame.frame for frame in group))
    job = first.job_frame
    told = f"{names} less {job} at epoch {first.epoch:.1f}"
    untransformed = Reading(
        f"{names} coordinates were delivered as {job}",
        f"Process again with a recorded change from {names} to {job} at the epoch of the survey.",
        ("CR-02", "GN-06"),
        _TOPICS,
    )
    twice = Reading(
        f"the change from {names} to {job} was made twice",
        "Find both places where the frame is changed, and leave one out.",
        ("CR-12",),
        _TOPICS,
    )
    table = Reading(
        f"the checkpoints are {names}",
        "Find out which frame the table of checkpoints is in, and declare it.",
        ("CR-02",),
    )
    grid = Reading(
        f"heights above the ellipsoid of {names} went through a geoid grid made for {job}",
        f"Bring the heights to {job} before the geoid is taken off.",
        ("VD-05",),
        (*_TOPICS, "height-chain"),
    )
    heights = first.shift * np.array([0.0, 0.0, 1.0])
    rows = (
        ("frame-kept", told, (untransformed,), first.shift, "frame"),
        ("frame-twice", f"minus {told}", (twice, table), -first.shift, "frame"),
        ("frame-of-heights", f"the heights of {told}", (grid,), heights, "heights"),
    )
    return [
        Candidate(
            id=f"{name} {first.frame}",
            group=about,
            quantity=quantity,
            readings=readings,
            shift=shift,
            sigma_plan_m=SIGMA_FRAME_M,
            sigma_height_m=SIGMA_FRAME_M,
            inputs=tuple(frame.operation for frame in group if frame.operation),
            separates="measure one target in plan" if name == "frame-of-heights" else _MARK,
        )
        for name, quantity, readings, shift, about in rows
    ]


def _make_drift_candidate(drift: Drift) -> Candidate:
    years = drift.to_epoch - drift.from_epoch
    told = f"{years:.1f} years of motion in {drift.frame}"
    reading = Reading(
        f"the epoch was left out: coordinates of {drift.to_epoch:.1f} were taken for those of "
        f"{drift.from_epoch:.1f}",
        f"Process again with a recorded change from epoch {drift.to_epoch:.1f} to "
        f"{drift.from_epoch:.1f}.",
        ("CR-03",),
        _TOPICS,
    )
    return Candidate(
        id=f"epoch {drift.frame}",
        group="frame",
        quantity=told,
        readings=(reading,),
        shift=drift.shift,
        sigma_plan_m=SIGMA_DRIFT_M,
        sigma_height_m=SIGMA_DRIFT_M,
        inputs=(drift.operation,) if drift.operation else (),
        separates=_MARK,
    )


def predict_units(facts: SiteFacts) -> Predictions:
    """Return what the wrong kind of foot, or feet for metres, would leave."""
    places = np.column_stack([facts.east, facts.north, np.zeros(facts.count)])
    kinds = [("US survey", "international", -1.0), ("international", "US survey", 1.0)]
    candidates = [
        Candidate(
            id=f"foot-kind {meant.split()[-1]}",
            group="unit",
            quantity=f"{sign * 2:+g} millionths of the coordinates",
            readings=(
                Reading(
                    f"coordinates in {meant} feet were read as {read} feet",
                    "Find out which foot each file is in, and process again with that.",
                    ("UN-02",),
                ),
            ),
            shift=places * (sign * float(_SURVEY_FOOT / _FOOT - 1)),
            sigma_plan_m=SIGMA_FOOT_M,
            sigma_height_m=SIGMA_FOOT_M,
            separates="read the unit in the header of the file that was exported first",
        )
        for meant, read, sign in kinds
    ]
    candidates += [
        _make_feet(
            "heights-times-3.28",
            1 / _FOOT,
            facts.height,
            (
                "the heights of the cloud are feet, taken for metres",
                "the heights of the checkpoints are metres, taken for feet",
            ),
        ),
        _make_feet(
            "heights-times-0.30",
            _FOOT,
            facts.height,
            (
                "the heights of the checkpoints are feet, taken for metres",
                "the heights of the cloud are metres, taken for feet",
            ),
        ),
    ]
    return Predictions(tuple(candidates))


def _make_feet(name: str, ratio: Fraction, height: Floats, clauses: tuple[str, str]) -> Candidate:
    factor = float(ratio)
    shift = np.column_stack([np.zeros((len(height), 2)), height * (factor - 1)])
    remedy = "Export or declare the heights in the unit of the job."
    return Candidate(
        id=name,
        group="unit",
        quantity=f"heights times {factor:.4f}",
        readings=tuple(Reading(clause, remedy, ("UN-03", "UN-04")) for clause in clauses),
        shift=shift,
        sigma_plan_m=0.0,
        sigma_height_m=SIGMA_FEET_HEIGHT_M,
        separates="read the vertical unit in the headers and in the table",
    )
