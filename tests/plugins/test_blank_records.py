"""A job of which base height, geoid and lever arm are blank still has an audit that ends.

It names each blank by its field, passes nothing that would need it, and is incomplete at best.
"""

from __future__ import annotations

import shutil
from typing import Any

import pytest
from job_bench import JobBench, make_bench

from ledger.demo.clouds import ACCEPTED, write_export
from ledger.demo.forms import write_specification
from ledger.model.ask import NoProgress

FLIGHT = (
    "rig=G1",
    "platform=drone",
    "mount_mode=drone",
    "orientation=inverted",
    "position_source=aircraft receiver",
    "height_type=ellipsoidal",
    "frame=NAD83(2011)",
    "base_kind=own base",
    "base_mark=QM1",
)
RUN = (
    "mount_mode=drone",
    "orientation=inverted",
    "position_source=aircraft receiver",
    "lever_arm_from=aircraft antenna",
    "frame=NAD83(2011)",
    "input_height_type=ellipsoidal",
    "output_height_type=orthometric",
    "control_used=no",
    "decision=accepted",
)
# Blank in the records of this job: field, and in which record.
BLANK = ("flight.base_height", "run.geoid_name", "run.lever_arm")


@pytest.fixture(scope="module")
def audited(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    """Return the audit of a delivery whose records leave the three blank."""
    bench: JobBench = make_bench(tmp_path_factory)
    specification = bench.job / "job.toml"
    write_specification(specification)
    lines = specification.read_text(encoding="utf-8").splitlines(keepends=True)
    kept = [line for line in lines if not line.startswith("geoid =")]
    assert len(kept) == len(lines) - 1
    specification.write_text("".join(kept), encoding="utf-8")
    bench.write("raw/scan.bin", b"raw points")
    write_export(bench.job / "out" / "R1", ACCEPTED, NoProgress())
    shutil.copytree(bench.job / "out" / "R1", bench.job / "deliver")
    for words, said in (
        (("register", "raw", "--flight", "F1"), ()),
        (("record", "rig"), ("scanner_serial=SU-07", "aircraft_serial=AC-03")),
        (("record", "flight", "F1"), FLIGHT),
        (("record", "out/R1", "--input", "F1"), RUN),
    ):
        ran = bench.run(*words, *(word for each in said for word in ("--set", each)))
        assert ran.status == 0, ran.err
    return bench.ask("audit", "deliver", status=3)


def test_the_audit_ends_and_is_incomplete(audited: dict[str, Any]) -> None:
    """Neither a pass nor a fault of the program: exit status 3, every point read."""
    assert audited["verdict"] == "incomplete"
    assert audited["points"] > 1_000_000
    assert [found for found in audited["findings"] if found["outcome"] == "errored"] == []
    assert [found for found in audited["findings"] if found["grade"] == "major"] == []


@pytest.mark.parametrize("field", BLANK)
def test_each_blank_leaves_its_check_open_and_is_named_there(
    audited: dict[str, Any], field: str
) -> None:
    """Not assessed, with the question and the key of the field, and the command that fills it."""
    named = [found for found in audited["findings"] if f"({field})" in found["sentence"]]
    assert named
    assert {found["outcome"] for found in named} == {"not assessed"}
    assert all("swathbook " in found["remedy"] for found in named)
    costs = {blank["field"]: set(blank["checks"]) for blank in audited["blanks"]}
    assert {found["check"] for found in named} <= costs[field]


def test_the_blank_geoid_of_the_job_is_named(audited: dict[str, Any]) -> None:
    """What the client asked for is a blank as well, and leaves a required check open."""
    costs = {blank["field"]: blank["checks"] for blank in audited["blanks"]}
    assert costs["coordinates.geoid"] == ["vertical-datum"]
    (found,) = (
        found
        for found in audited["findings"]
        if (found["check"], found["outcome"]) == ("vertical-datum", "not assessed")
    )
    assert found["count"] == 24
    assert found["sentence"].startswith("Each of 24 files: ")
