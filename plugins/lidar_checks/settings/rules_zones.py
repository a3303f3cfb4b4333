"""Rules of zone, system, unit and scale: from the processing to the delivery."""

from __future__ import annotations

from ledger.model.finding import Grade
from lidar_checks.settings.conditions import same
from lidar_checks.settings.rule import Rule
from lidar_checks.settings.scale import equals_one, same_factor
from lidar_checks.settings.systems import NO_ZONE, same_system, same_zone

ZONES = (
    Rule(
        ids=("SC-23", "CR-01", "CR-06"),
        topic="zone-chain",
        grade=Grade.MAJOR,
        operands=("run.system", "job.system"),
        holds=same_system("run.system", "job.system"),
        broken="{run} gave coordinates in {run.system}; the job asks for {job.system}.",
        right="{run} gave coordinates in {run.system}, as the job asks.",
        unclear="The system of {run}, “{run.system}”, cannot be understood, so nobody can say "
        "whether it is {job.system}.",
        remedy="Process or export again in {job.system}; do not change the label alone.",
        found="{run.system} out of {run}{run.system|how}",
        expected="{job.system}, as job.toml asks{job.system|how}",
        last_only=True,
    ),
    Rule(
        ids=("SC-23", "CR-01"),
        topic="zone-chain",
        grade=Grade.MAJOR,
        unless=("job.zone", (NO_ZONE,)),
        where_known=("run.zone",),
        operands=("run.zone", "job.zone"),
        holds=same_zone("run.zone", "job.zone"),
        broken="{run} was set to zone {run.zone}; the system that the job asks for is zone "
        "{job.zone}.",
        right="{run} was set to zone {run.zone}, that of the job.",
        unclear="{run} was set to zone {run.zone}, the job asks for zone {job.zone}: which "
        "hemisphere was meant is not sure.",
        remedy="Process or export again in zone {job.zone}; do not change the label alone.",
        found="zone {run.zone} in {run}{run.zone|how}",
        expected="zone {job.zone}, that of coordinates.horizontal in job.toml{job.zone|how}",
        last_only=True,
    ),
    Rule(
        ids=("SC-24", "SL-09"),
        topic="zone-chain",
        grade=Grade.MAJOR,
        where_known=("run.trajectory_crs", "run.trajectory_height_type"),
        operands=("run.trajectory_system", "run.system"),
        holds=same_system("run.trajectory_system", "run.system"),
        broken="{run} wrote its trajectory in {run.trajectory_system} and its points in "
        "{run.system}.",
        right="{run} wrote trajectory and points in {run.system}.",
        unclear="The system of trajectory or points of {run} cannot be understood.",
        remedy="Write the trajectory out again in {run.system}.",
        found="a trajectory in {run.trajectory_system} from {run}{run.trajectory_system|how}",
        expected="{run.system}, the system of its points{run.system|how}",
    ),
    Rule(
        ids=("SC-24", "SL-09", "VD-01"),
        topic="zone-chain",
        grade=Grade.MAJOR,
        where_known=("run.trajectory_crs", "run.trajectory_height_type"),
        operands=("run.trajectory_height_type", "run.output_height_type"),
        holds=same("run.trajectory_height_type", "run.output_height_type"),
        broken="{run} wrote its trajectory with {run.trajectory_height_type} heights and its "
        "points with {run.output_height_type} ones.",
        right="{run} wrote trajectory and points with {run.output_height_type} heights.",
        remedy="Write the trajectory out again with {run.output_height_type} heights.",
        found="{run.trajectory_height_type} heights in the trajectory of "
        "{run}{run.trajectory_height_type|how}",
        expected="{run.output_height_type}, as its points have{run.output_height_type|how}",
    ),
    Rule(
        ids=("SC-25", "CR-06"),
        topic="zone-chain",
        grade=Grade.MAJOR,
        where_known=("files.system",),
        operands=("run.system", "files.system"),
        holds=same_system("run.system", "files.system"),
        broken="{files.system|owner} says in its header that it is in {files.system}; {run} made "
        "it in {run.system}.",
        right="The delivered files of {run} say in their headers what it made, {run.system}.",
        unclear="The system of {run}, “{run.system}”, cannot be understood, so it cannot be held "
        "against the headers.",
        remedy="Find out whether the label was changed or the coordinates were; export again "
        "from {run}.",
        found="{files.system} in the header of {files.system|owner}{files.system|how}",
        expected="{run.system}, as {run} has it{run.system|how}",
        last_only=True,
    ),
    Rule(
        ids=("SC-26", "UN-01"),
        topic="zone-chain",
        grade=Grade.MAJOR,
        where_known=("run.unit_horizontal",),
        operands=("run.unit_horizontal", "job.unit_horizontal"),
        holds=same("run.unit_horizontal", "job.unit_horizontal"),
        broken="{run} was set to {run.unit_horizontal} in plan; the job asks for "
        "{job.unit_horizontal}.",
        right="{run} was set to {run.unit_horizontal} in plan, as the job asks.",
        remedy="Export again in {job.unit_horizontal}.",
        found="{run.unit_horizontal} in plan in {run}{run.unit_horizontal|how}",
        expected="{job.unit_horizontal}, as job.toml asks{job.unit_horizontal|how}",
        last_only=True,
    ),
    Rule(
        ids=("SC-26", "UN-03"),
        topic="zone-chain",
        grade=Grade.MAJOR,
        where_known=("run.unit_vertical",),
        operands=("run.unit_vertical", "job.unit_vertical"),
        holds=same("run.unit_vertical", "job.unit_vertical"),
        broken="{run} was set to {run.unit_vertical} for heights; the job asks for "
        "{job.unit_vertical}.",
        right="{run} was set to {run.unit_vertical} for heights, as the job asks.",
        remedy="Export again with heights in {job.unit_vertical}.",
        found="heights in {run.unit_vertical} in {run}{run.unit_vertical|how}",
        expected="{job.unit_vertical}, as job.toml asks{job.unit_vertical|how}",
        last_only=True,
    ),
)

SCALE = (
    Rule(
        ids=("SC-27", "CR-04"),
        topic="scale-basis",
        grade=Grade.MINOR,
        operands=("specification.coordinates.scale_basis", "run.scale_basis"),
        optional=("specification.coordinates.combined_factor",),
        holds=same("run.scale_basis", "specification.coordinates.scale_basis"),
        broken="{run} gave lengths on the {run.scale_basis}; the job asks for lengths on the "
        "{specification.coordinates.scale_basis}.",
        right="{run} gave lengths on the {run.scale_basis}, as the job asks.",
        remedy="Export again with lengths on the {specification.coordinates.scale_basis}, or let "
        "somebody accept it with the factor between the two[ (job.toml: "
        "{specification.coordinates.combined_factor})].",
        found="lengths on the {run.scale_basis} in {run}{run.scale_basis|how}",
        expected="on the {specification.coordinates.scale_basis}, as job.toml "
        "asks{specification.coordinates.scale_basis|how}",
        last_only=True,
    ),
    Rule(
        ids=("SC-27", "CR-04", "SL-08"),
        topic="scale-basis",
        grade=Grade.MINOR,
        when=("specification.coordinates.scale_basis", ("ground",)),
        operands=("run.combined_factor", "specification.coordinates.combined_factor"),
        completing=("run.scale_origin", "run.scale_height"),
        holds=same_factor("run.combined_factor", "specification.coordinates.combined_factor"),
        broken="{run} scaled lengths by {run.combined_factor}; the job asks for a combined factor "
        "of {specification.coordinates.combined_factor}.",
        right="{run} scaled lengths by {run.combined_factor}, as the job asks.",
        unclear="The combined factor of {run} is no number.",
        remedy="Export again with the factor of the job, about its origin.",
        found="a combined factor of {run.combined_factor} in {run}{run.combined_factor|how}",
        expected="{specification.coordinates.combined_factor} within {limit.factor_apart_max_ppm} "
        "ppm, as job.toml asks{specification.coordinates.combined_factor|how}",
        last_only=True,
    ),
    Rule(
        ids=("SC-27", "SL-08"),
        topic="scale-basis",
        grade=Grade.MINOR,
        when=("specification.coordinates.scale_basis", ("grid",)),
        where_known=("run.combined_factor",),
        operands=("run.combined_factor",),
        holds=equals_one("run.combined_factor"),
        broken="{run} scaled lengths by {run.combined_factor}, though the job asks for lengths on "
        "the grid.",
        right="{run} scaled no lengths, as lengths on the grid need.",
        unclear="The combined factor of {run} is no number.",
        remedy="Export again without a scale factor.",
        found="a combined factor of {run.combined_factor} in {run}{run.combined_factor|how}",
        expected="1, because job.toml asks for lengths on the "
        "grid{specification.coordinates.scale_basis|how}",
        last_only=True,
    ),
)
