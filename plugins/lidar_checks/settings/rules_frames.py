"""Rules of reference frames: from receiver and base through the processing to the delivery."""

from __future__ import annotations

from ledger.model.fields.choices import SERVICES
from ledger.model.finding import Grade
from lidar_checks.settings.frames import (
    epoch_kept_or_changed,
    frame_kept_or_changed,
    is_good_enough,
    operation_changes,
    same_ellipsoid,
    same_frame,
)
from lidar_checks.settings.rule import Rule

FRAMES = (
    Rule(
        ids=("SC-15", "CR-02"),
        topic="frame-chain",
        grade=Grade.MAJOR,
        operands=("source.frame", "run.frame"),
        optional=("run.frame_operation", "site.shift_to_run"),
        holds=frame_kept_or_changed("source.frame", "run.frame", "run.frame_operation"),
        broken="The positions of {source.frame|owner} are in {source.frame}, those of {run} in "
        "{run.frame}, and no change of frame is on record[: not changed, points lie "
        "{site.shift_to_run} of their place].",
        right="{run} gave positions in {run.frame}, from {source.frame}[, changed by "
        "“{run.frame_operation}”].",
        unclear="The positions of {source.frame|owner} are in {source.frame}, those of {run} in "
        "{run.frame}: perhaps one frame under two names, or two that lie near each other; no "
        "change of frame is on record.",
        remedy="If {run} changed the frame, say how (swathbook amend {run} --set "
        'frame_operation="…" --reason "…"); if not, process again with the change.',
        found="{run.frame} out of {run}{run.frame|how}, no change of frame on record",
        expected="{source.frame}, as {source.frame|owner} has it{source.frame|how}, or a recorded "
        "change",
    ),
    Rule(
        ids=("CR-14", "SC-15"),
        topic="frame-chain",
        grade=Grade.MINOR,
        where_known=("run.frame_operation",),
        operands=("source.frame", "run.frame", "run.frame_operation"),
        holds=operation_changes("source.frame", "run.frame", "run.frame_operation"),
        broken="{run} brought {source.frame} to {run.frame} by “{run.frame_operation}”, which "
        "changes no frame: it is a map projection, or what a library takes where a grid is not at "
        "hand.",
        right="The change of frame in {run} is by an operation that changes something, or needs "
        "none.",
        unclear="{run} brought {source.frame} to {run.frame} by “{run.frame_operation}”, which "
        "changes no frame; whether it had to be changed is not sure.",
        remedy="Find out which operation and grid lead from {source.frame} to {run.frame} here, "
        "install the grid and process again.",
        found="“{run.frame_operation}” in {run}{run.frame_operation|how}",
        expected="an operation between {source.frame} and {run.frame}, with its grid",
    ),
    Rule(
        ids=("CR-14",),
        topic="frame-chain",
        grade=Grade.MINOR,
        where_known=("run.operation_accuracy",),
        operands=("run.frame_operation", "run.operation_accuracy"),
        holds=is_good_enough("run.operation_accuracy", "operation_accuracy_max_m"),
        broken="{run} changed the frame by “{run.frame_operation}”, which is good to "
        "{run.operation_accuracy} m as the registry has it: a library takes such a one where the "
        "grid of a better one is not at hand.",
        right="{run} changed the frame by “{run.frame_operation}”, which is good to "
        "{run.operation_accuracy} m as the registry has it.",
        remedy="Find out which operation and grid are the best here, install the grid and process "
        "again; or write operation_accuracy_max_m under criteria.frame-chain in job.toml.",
        found="{run.operation_accuracy} m in {run}{run.frame_operation|how}",
        expected="{limit.operation_accuracy_max_m} m or better",
    ),
    Rule(
        ids=("SC-15", "CR-03"),
        topic="frame-chain",
        grade=Grade.MINOR,
        where_known=("source.epoch",),
        operands=("source.epoch", "run.epoch"),
        optional=("run.frame_operation",),
        holds=epoch_kept_or_changed("source.epoch", "run.epoch", "run.frame_operation"),
        broken="The positions of {source.epoch|owner} are of epoch {source.epoch}, those of {run} "
        "of epoch {run.epoch}, and no change is on record: the ground moved meanwhile.",
        right="{run} gave positions of epoch {run.epoch}, from epoch {source.epoch}[, changed by "
        "“{run.frame_operation}”].",
        unclear="The epochs of {source.epoch|owner} and {run} are no numbers.",
        remedy="If {run} changed the epoch, say how (swathbook amend {run} --set "
        'frame_operation="…" --reason "…"); if not, process again with the change.',
        found="epoch {run.epoch} out of {run}{run.epoch|how}, no change on record",
        expected="epoch {source.epoch} within {limit.epoch_apart_max_years} years, as "
        "{source.epoch|owner} has it{source.epoch|how}, or a recorded change",
    ),
    Rule(
        ids=("CR-02", "SC-15"),
        topic="frame-chain",
        grade=Grade.MAJOR,
        operands=("run.frame", "job.frame"),
        optional=("site.shift_to_job",),
        holds=same_frame("run.frame", "job.frame"),
        broken="{run} gave positions in {run.frame}; the system that the job asks for is on "
        "{job.frame}[: not changed, points lie {site.shift_to_job} of their place].",
        right="{run} gave positions in {run.frame}, the frame of the system that the job asks for.",
        unclear="{run} gave positions in {run.frame}, the system that the job asks for is on "
        "{job.frame}: perhaps one frame under two names, or two that lie near each other.",
        remedy="Process again in {job.frame}, with a change of frame where the positions are in "
        "another one; do not change the label alone.",
        found="{run.frame} out of {run}{run.frame|how}",
        expected="{job.frame}, the frame of coordinates.horizontal in job.toml{job.frame|how}",
        last_only=True,
    ),
    Rule(
        ids=("CR-03", "SC-15"),
        topic="frame-chain",
        grade=Grade.MINOR,
        where_known=("specification.coordinates.epoch",),
        operands=("run.epoch", "specification.coordinates.epoch"),
        holds=epoch_kept_or_changed("run.epoch", "specification.coordinates.epoch", ""),
        broken="{run} gave positions of epoch {run.epoch}; the job asks for epoch "
        "{specification.coordinates.epoch}.",
        right="{run} gave positions of epoch {run.epoch}; the job asks for "
        "{specification.coordinates.epoch}.",
        unclear="The epoch of {run} is no number.",
        remedy="Process again at epoch {specification.coordinates.epoch}, or let somebody accept "
        "it with the shift that it makes here.",
        found="epoch {run.epoch} out of {run}{run.epoch|how}",
        expected="epoch {specification.coordinates.epoch} within {limit.epoch_apart_max_years} "
        "years, as job.toml asks{specification.coordinates.epoch|how}",
        last_only=True,
    ),
    Rule(
        ids=("SC-16", "CR-06"),
        topic="frame-chain",
        grade=Grade.MAJOR,
        where_known=("run.ellipsoid",),
        operands=("run.ellipsoid", "job.ellipsoid"),
        holds=same_ellipsoid("run.ellipsoid", "job.ellipsoid"),
        broken="{run} gave positions on ellipsoid {run.ellipsoid}; the system that the job asks "
        "for is on {job.ellipsoid}.",
        right="{run} gave positions on ellipsoid {run.ellipsoid}, the job asks for "
        "{job.ellipsoid}: the same, or apart by a tenth of a millimetre.",
        unclear="{run} gave positions on ellipsoid {run.ellipsoid}, the system that the job asks "
        "for is on {job.ellipsoid}; one of the two names is not known.",
        remedy="Process again on {job.ellipsoid}; and look at the frame, which decides.",
        found="ellipsoid {run.ellipsoid} in {run}{run.ellipsoid|how}",
        expected="{job.ellipsoid}, that of coordinates.horizontal in job.toml{job.ellipsoid|how}",
        last_only=True,
    ),
    Rule(
        ids=("SC-16", "CR-11"),
        topic="frame-chain",
        grade=Grade.MAJOR,
        where_known=("flight.ellipsoid",),
        operands=("flight.ellipsoid", "run.ellipsoid"),
        holds=same_ellipsoid("flight.ellipsoid", "run.ellipsoid"),
        broken="The receiver of {flight} showed ellipsoid {flight.ellipsoid}, {run} used "
        "{run.ellipsoid}.",
        right="The receiver of {flight} showed ellipsoid {flight.ellipsoid}, {run} used "
        "{run.ellipsoid}: the same, or apart by a tenth of a millimetre.",
        unclear="The receiver of {flight} showed ellipsoid {flight.ellipsoid}, {run} used "
        "{run.ellipsoid}; one of the two names is not known.",
        remedy="Find out which one is right, and process again with it.",
        found="ellipsoid {run.ellipsoid} in {run}{run.ellipsoid|how}",
        expected="{flight.ellipsoid}, as shown in {flight}{flight.ellipsoid|how}",
    ),
    Rule(
        ids=("SC-17", "GN-06"),
        topic="frame-chain",
        grade=Grade.MAJOR,
        when=("flight.base_kind", SERVICES),
        operands=("flight.service_frame", "flight.frame"),
        optional=("flight.frame_operation",),
        holds=frame_kept_or_changed(
            "flight.service_frame", "flight.frame", "flight.frame_operation"
        ),
        broken="The service of {flight} works in {flight.service_frame}; its positions are on "
        "record as {flight.frame}, and no change of frame is.",
        right="Service and positions of {flight} are in {flight.frame}, from "
        "{flight.service_frame}[, changed by “{flight.frame_operation}”].",
        unclear="The service of {flight} works in {flight.service_frame}, its positions are on "
        "record as {flight.frame}: perhaps one frame under two names, or two that lie near each "
        "other.",
        remedy="Ask the service in which frame it works. Positions are in its frame unless the "
        "controller changed it: correct {flight} (swathbook record flight {flight}), and process "
        "{run} again with the change.",
        found="positions in {flight.frame} in {flight}{flight.frame|how}",
        expected="{flight.service_frame}, the frame of the service{flight.service_frame|how}, or "
        "a recorded change",
    ),
    Rule(
        ids=("GN-06", "SC-17"),
        topic="frame-chain",
        grade=Grade.MINOR,
        where_known=("flight.service_epoch",),
        operands=("flight.service_epoch", "flight.epoch"),
        optional=("flight.frame_operation",),
        holds=epoch_kept_or_changed(
            "flight.service_epoch", "flight.epoch", "flight.frame_operation"
        ),
        broken="The service of {flight} gives epoch {flight.service_epoch}; its positions are on "
        "record as of epoch {flight.epoch}.",
        right="Service and positions of {flight} are of one epoch, {flight.epoch}.",
        unclear="The epochs of {flight} are no numbers.",
        remedy="Ask the service for its epoch, and correct {flight} (swathbook record flight "
        "{flight}).",
        found="epoch {flight.epoch} in {flight}{flight.epoch|how}",
        expected="epoch {flight.service_epoch} within {limit.epoch_apart_max_years} years, that of "
        "the service{flight.service_epoch|how}",
    ),
    Rule(
        ids=("SC-18", "GN-01", "CR-02"),
        topic="frame-chain",
        grade=Grade.MAJOR,
        where_known=("flight.base_frame",),
        operands=("flight.base_frame", "flight.frame"),
        optional=("flight.frame_operation",),
        holds=frame_kept_or_changed("flight.base_frame", "flight.frame", "flight.frame_operation"),
        broken="The base of {flight} has coordinates in {flight.base_frame}; the positions are on "
        "record as {flight.frame}.",
        right="Base and positions of {flight} are in {flight.frame}, from {flight.base_frame}[, "
        "changed by “{flight.frame_operation}”].",
        unclear="The base of {flight} has coordinates in {flight.base_frame}, the positions are on "
        "record as {flight.frame}: perhaps one frame under two names, or two that lie near each "
        "other.",
        remedy="Positions are in the frame of their base: correct {flight} (swathbook record "
        "flight {flight}), and process {run} again with the change.",
        found="positions in {flight.frame} in {flight}{flight.frame|how}",
        expected="{flight.base_frame}, the frame of the base{flight.base_frame|how}",
    ),
)
