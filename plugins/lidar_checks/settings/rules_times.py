"""Rules of clocks, and of what ties a result to the ground."""

from __future__ import annotations

from ledger.model.finding import Grade
from lidar_checks.settings.base_conditions import is_tied_or_checked, time_scales_joined
from lidar_checks.settings.rule import Rule

TIMES = (
    Rule(
        ids=("SC-28", "GN-04"),
        topic="time-scale",
        grade=Grade.MINOR,
        operands=("flight.scanner_time_scale", "flight.log_time_scale"),
        optional=("run.leap_seconds", "flight.takeoff"),
        holds=time_scales_joined,
        broken="In {flight} the scanner ran in {flight.scanner_time_scale} time and the flight log "
        "in {flight.log_time_scale} time; seconds between the two, by the record of {run}: "
        "{run.leap_seconds}.",
        right="Scanner and flight log of {flight} ran in {flight.scanner_time_scale} and "
        "{flight.log_time_scale} time[, {run.leap_seconds|second} apart in {run}].",
        unclear="In {flight} the scanner ran in {flight.scanner_time_scale} time and the flight "
        "log in {flight.log_time_scale} time: how far these are apart is not on record.",
        remedy="See with how many seconds {run} joined the two (18 between GPS and UTC), and "
        'record it (swathbook amend {run} --set leap_seconds=… --reason "…").',
        found="{flight.scanner_time_scale} and {flight.log_time_scale} time in "
        "{flight}{flight.log_time_scale|how}, {run.leap_seconds} seconds between them in {run}",
        expected="one time scale, or the 18 s between GPS and UTC on record (IERS Bulletin C 52)",
    ),
)

CONTROL = (
    Rule(
        ids=("SC-20", "CP-06"),
        topic="control-chain",
        grade=Grade.OBSERVATION,
        operands=("run.control_used", "job.checkpoint_tables"),
        holds=is_tied_or_checked,
        broken="{run} used no ground control, and the job has no checkpoints: how it was made may "
        "be stated, how accurate it is may not.",
        right="{run} has something to be held against: ground control used: {run.control_used}, "
        "{job.checkpoint_tables|table} of checkpoints in the job.",
        remedy="Survey some checkpoints and register their table, or state no accuracy.",
        found="ground control used in {run}: {run.control_used}{run.control_used|how}; "
        "{job.checkpoint_tables|table} of checkpoints in the job",
        expected="ground control, or a table of checkpoints",
    ),
    Rule(
        ids=("CP-06", "SC-20"),
        topic="control-chain",
        grade=Grade.MAJOR,
        where_known=("job.claim",),
        operands=("run.control_used", "job.checkpoint_tables", "job.claim"),
        holds=is_tied_or_checked,
        broken="{job.claim|owner} states an accuracy of {job.claim} m; {run} used no ground "
        "control, and the job has no checkpoints that bear it out.",
        right="{job.claim|owner} states an accuracy of {job.claim} m, and there is something to "
        "hold it against.",
        remedy="Register the table of checkpoints, or take the number out of the report: not "
        "verified against the ground.",
        found="an accuracy of {job.claim} m in {job.claim|owner}{job.claim|how}; ground control "
        "used in {run}: {run.control_used}{run.control_used|how}; {job.checkpoint_tables|table} of "
        "checkpoints in the job",
        expected="ground control, or a table of checkpoints",
    ),
)
