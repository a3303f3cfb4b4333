"""Rules of heights and their geoid."""

from __future__ import annotations

from ledger.model.finding import Grade
from lidar_checks.settings.conditions import geoid_applied_as_asked, same, same_geoid
from lidar_checks.settings.frames import same_frame
from lidar_checks.settings.rule import Rule

HEIGHTS = (
    Rule(
        ids=("SC-11", "VD-01", "VD-02"),
        topic="height-chain",
        grade=Grade.MAJOR,
        operands=("source.height_type", "run.input_height_type"),
        holds=same("source.height_type", "run.input_height_type"),
        broken="{run} took its heights for {run.input_height_type}; they came in as "
        "{source.height_type}.",
        right="{run} took its {run.input_height_type} heights for what they are.",
        remedy="Set the input heights to {source.height_type} and process again.",
        found="heights taken for {run.input_height_type} in {run}{run.input_height_type|how}",
        expected="{source.height_type}, as {source.height_type|owner} gave "
        "them{source.height_type|how}",
    ),
    Rule(
        ids=("SC-12", "VD-01", "VD-02", "VD-03"),
        topic="height-chain",
        grade=Grade.MAJOR,
        when=("specification.coordinates.vertical", ("orthometric", "ellipsoidal")),
        operands=("source.height_type", "run.geoid_name"),
        optional=("run.geoid_applications",),
        holds=geoid_applied_as_asked,
        broken="From {source.height_type} heights, with geoid “{run.geoid_name}”, {run} cannot "
        "give the {specification.coordinates.vertical} heights that the job asks for[; a geoid "
        "was applied {run.geoid_applications|time} by the record].",
        right="{run} applied a geoid as often as {specification.coordinates.vertical} heights "
        "need.",
        remedy="Process again: a geoid once for orthometric heights, never for ellipsoidal ones.",
        found="{source.height_type} heights from "
        "{source.height_type|owner}{source.height_type|how}, geoid "
        "“{run.geoid_name}” in {run}{run.geoid_name|how}[, a geoid applied "
        "{run.geoid_applications|time} by the record{run.geoid_applications|how}]",
        expected="{specification.coordinates.vertical} heights, as job.toml "
        "asks{specification.coordinates.vertical|how}: a geoid {wanted}",
        last_only=True,
    ),
    Rule(
        ids=("SC-13", "VD-05"),
        topic="height-chain",
        grade=Grade.MAJOR,
        unless=("run.geoid_name", ("none",)),
        operands=("run.frame", "run.geoid_frame"),
        holds=same_frame("run.frame", "run.geoid_frame"),
        broken="The geoid of {run} belongs to frame {run.geoid_frame}; the heights are in "
        "{run.frame}.",
        right="Heights and geoid of {run} are in one frame, {run.frame}.",
        unclear="The geoid of {run} belongs to frame {run.geoid_frame}, the heights are in "
        "{run.frame}: perhaps one frame written in two ways.",
        remedy="Process again with the geoid of that frame, or transform first.",
        found="a geoid of frame {run.geoid_frame} in {run}{run.geoid_frame|how}",
        expected="of {run.frame}, the frame of the heights{run.frame|how}",
    ),
    Rule(
        ids=("SC-14", "VD-04"),
        topic="height-chain",
        grade=Grade.MAJOR,
        unless=("run.geoid_name", ("none",)),
        operands=("run.geoid_name", "specification.coordinates.geoid.name"),
        optional=(
            "run.geoid_version",
            "run.geoid_file",
            "specification.coordinates.geoid.version",
            "specification.coordinates.geoid.file",
            "site.geoid_difference",
        ),
        holds=same_geoid,
        broken="{run} used geoid {run.geoid_name}[ {run.geoid_version}]; the job asks for "
        "{specification.coordinates.geoid.name}[ {specification.coordinates.geoid.version}]"
        "[ (grid {run.geoid_file} against {specification.coordinates.geoid.file})]"
        "[; at the site they differ by up to {site.geoid_difference} m].",
        right="{run} used the geoid that the job asks for, {run.geoid_name}[, in another file than "
        "the job names: at five places of the site the two differ by {site.geoid_difference} m at "
        "most].",
        unclear="{run} names geoid {run.geoid_name}[ {run.geoid_version}], as the job does, but "
        "not all that would prove it: version and grid file (run.geoid_version, run.geoid_file).",
        remedy="Process again with geoid {specification.coordinates.geoid.name}"
        "[ {specification.coordinates.geoid.version}].",
        found="geoid {run.geoid_name}[ {run.geoid_version}][, grid {run.geoid_file},] in "
        "{run}{run.geoid_name|how}",
        expected="{specification.coordinates.geoid.name}[ "
        "{specification.coordinates.geoid.version}][, grid "
        "{specification.coordinates.geoid.file} or one within 0.005 m of it at the site], as "
        "job.toml asks{specification.coordinates.geoid.name|how}",
    ),
    Rule(
        ids=("VD-01", "SC-12"),
        topic="height-chain",
        grade=Grade.MAJOR,
        when=("specification.coordinates.vertical", ("orthometric", "ellipsoidal", "site")),
        operands=("run.output_height_type",),
        holds=same("run.output_height_type", "specification.coordinates.vertical"),
        broken="{run} gave {run.output_height_type} heights; the job asks for "
        "{specification.coordinates.vertical} ones.",
        right="{run} gave {run.output_height_type} heights, as the job asks.",
        remedy="Process again with {specification.coordinates.vertical} heights[ (geoid of the "
        "job: {specification.coordinates.geoid.name})].",
        found="{run.output_height_type} heights out of {run}{run.output_height_type|how}",
        expected="{specification.coordinates.vertical} heights, as job.toml "
        "asks{specification.coordinates.vertical|how}",
        optional=("specification.coordinates.geoid.name",),
        last_only=True,
    ),
)
