"""A delivery with twelve different faults: what a technician sees on a very bad evening.

Six lie in how the run was set, six in the files that are to be sent. The rest of the job is honest.
All of it is invented.
"""

from __future__ import annotations

import shutil
from collections.abc import Callable
from dataclasses import dataclass, replace

import laspy
from honest import FLIGHT, FLORIDA, RIG, RUN, SPECIFICATION, survey_points, write_options
from honest_ground import Ground
from job_bench import JobBench
from made_geoid import write_geoid

from ledger.testing import SurveyBuilder

SCENE = Ground(columns=4, rows=3, tile_size=20.0, density=5.0, noise=0.008, origin=FLORIDA.origin)
_GEOID_M = -27.4
_CENTRE = (-81.0, 28.02)


@dataclass(frozen=True)
class Planted:
    """One fault.

    Args:
        name: what went wrong, as its maker would say it.
        failure: the failure or rule by which a finding names it.
        subject: which of run and tiles a finding has to be about.
        setting: the value of the run's form that is wrong, if it is one.
        spoil: what is done to the files, if anything.
    """

    name: str
    failure: str
    subject: str
    setting: tuple[str, str] | None = None
    spoil: Callable[[SurveyBuilder], object] | None = None


def _leave_ellipsoidal(survey: SurveyBuilder) -> None:
    for path in survey.paths:
        survey.shift_heights(path.name, _GEOID_M)


def _unclass_ground(survey: SurveyBuilder) -> object:
    return survey.reclassify("tile_2_0", 2, 1)


def _cut_hole(survey: SurveyBuilder) -> object:
    east, north = SCENE.origin
    return survey.cut_hole("tile_3_0", east + 70.0, north + 10.0, 4.0)


FAULTS = (
    Planted("mount mode left on hand", "MB-01", "R2", ("mount_mode", "hand")),
    Planted("arm of the other antenna", "MB-02", "R2", ("lever_arm_from", "scanner antenna")),
    Planted("heights left ellipsoidal", "VD-01", "delivery", spoil=_leave_ellipsoidal),
    Planted("another geoid named", "VD-04", "R2", ("geoid_name", "model-B")),
    Planted("the next zone", "CR-01", "R2", ("zone", "18N")),
    Planted("heights in feet", "UN-03", "R2", ("unit_vertical", "us-survey-foot")),
    Planted("a tile of the rejected run", "RH-02", "tile_0_2.laz"),
    Planted(
        "a tile thinned", "DN-01", "tile_1_0.laz", spoil=lambda survey: survey.thin("tile_1_0", 0.3)
    ),
    Planted(
        "a tile raised",
        "VD-08",
        "tile_2_1.laz",
        spoil=lambda survey: survey.shift_heights("tile_2_1", 0.12),
    ),
    Planted("a hole", "DN-03", "tile_3_0.laz", spoil=_cut_hole),
    Planted("ground without a class", "CL-04", "tile_2_0.laz", spoil=_unclass_ground),
    Planted("a tile changed by hand", "RH-03", "tile_3_2.laz"),
)


def make_job(bench: JobBench) -> None:
    """Work through the whole job, up to the audit of `deliver`."""
    site = FLORIDA
    text = SPECIFICATION.format(
        horizontal=site.horizontal, vertical=site.vertical, unit=site.unit, density=4.0
    )
    bench.write("job.toml", text.encode())
    _work(bench, "record", "rig", *write_options(RIG))
    bench.write("raw/F1/capture.bin", b"capture\0" * 999)
    _work(bench, "register", "raw/F1", "--flight", "F1")
    write_geoid(bench.job / "geoid" / "model-A.gtx", _CENTRE, _GEOID_M)
    _work(bench, "register", "geoid")
    times = {"takeoff": "2026-05-04T14:00:00Z", "landing": "2026-05-04T14:18:00Z"}
    flown = {**FLIGHT, **times, "frame": site.frame, "base_mark": "M-1"}
    _work(bench, "record", "flight", "F1", *write_options(flown))
    survey_points(bench, site, SCENE)
    rejected = SurveyBuilder(bench.job / "out" / "R1", scene=replace(SCENE, seed=2))
    _leave_ellipsoidal(rejected)
    _record(bench, "out/R1", decision="rejected", reason="ghosts in the north")
    exported = SurveyBuilder(bench.job / "out" / "R2", scene=SCENE)
    for fault in FAULTS:
        if fault.spoil is not None:
            fault.spoil(exported)
    _record(bench, "out/R2", **dict(fault.setting for fault in FAULTS if fault.setting))
    _deliver(bench)


def _deliver(bench: JobBench) -> None:
    """Put together what is to be sent: one tile out of the wrong folder, one worked on by hand."""
    out, deliver = bench.job / "out", bench.job / "deliver"
    shutil.copytree(out / "R2", deliver)
    shutil.copyfile(out / "R1" / "tile_0_2.laz", deliver / "tile_0_2.laz")
    changed = deliver / "tile_3_2.laz"
    cloud = laspy.read(changed)
    cloud.z[100] += 0.02
    cloud.write(changed)


def _record(bench: JobBench, folder: str, **changed: str) -> None:
    site = FLORIDA
    values = {
        **RUN,
        "crs": site.horizontal,
        "frame": site.frame,
        "geoid_frame": site.frame,
        "vertical_datum": site.datum,
        "zone": site.zone,
        "geoid_file": "geoid/model-A.gtx",
        **changed,
    }
    _work(bench, "record", folder, "--input", "F1", *write_options(values))


def _work(bench: JobBench, *words: str) -> None:
    ran = bench.run(*words)
    assert ran.status == 0, ran.err
