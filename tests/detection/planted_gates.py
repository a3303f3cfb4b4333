"""Settings that are numbers, on both sides of what is allowed."""

from __future__ import annotations

from typing import Any

from made_records import COORDINATES, Records
from planted import Planted, make_chain, record

from ledger.contract.evidence import Evidence
from ledger.model.jobrecords import JobRecords
from ledger.model.known import KnownValue
from ledger.model.process import Card
from ledger.model.rig import record_again
from ledger.model.specification import Specification
from ledger.testing import drive_check
from lidar_checks.settings.base_chain import BaseChain
from lidar_checks.settings.base_height import BaseHeight
from lidar_checks.settings.bracket_change import BracketChange
from lidar_checks.settings.control_chain import ControlChain
from lidar_checks.settings.export_settings import ExportSettings
from lidar_checks.settings.frame_chain import FrameChain
from lidar_checks.settings.length_units import LengthUnits
from lidar_checks.settings.range_limits import RangeLimits
from lidar_checks.settings.run_agreement import RunAgreement
from lidar_checks.settings.scale_basis import ScaleBasis


def _make_two_runs(**second: Any) -> Evidence:
    """Return two runs of one delivery; the second has other settings."""
    changes = {f"run.{key}": value for key, value in second.items()}
    made = Records().rig().flight().process().process("R2", changes=changes)
    return made.deliver("a.las", "R1").deliver("b.las", "R2").evidence()


def _change_bracket(takeoff: str) -> Evidence:
    """Return a flight of a rig that got another bracket on 1 February, its arm unmeasured."""
    made = Records().rig().flight(changes={"flight.takeoff": takeoff})
    card = made.rigs[0]
    first = {**card.values, "rig.lever_arm_measured": KnownValue("2026-01-01")}
    states = record_again((), first, 1, "2026-01-01T08:00:00Z", "technician")
    other = {"rig.bracket": KnownValue("B-2")}
    states = record_again(states, other, 2, "2026-02-01T08:00:00Z", "technician")
    made.rigs = [type(card)("G1", "", 1, "", "technician", states[-1].values, states=states)]
    return made.process().deliver("tile_01.las", "R1").evidence()


def _claim(is_used: bool | None, *, is_stated: bool) -> Evidence:
    """Return a run without a checkpoint; a report may state an accuracy."""
    made = Records().rig().flight().process(changes={"run.control_used": is_used})
    made.registered = {}
    if is_stated:
        values = {"statement.value": KnownValue("0.021", "m")}
        made.job = JobRecords(statements=(Card("A1", "", 30, "", "technician", values),))
    return made.deliver("tile_01.las", "R1").evidence()


def _set_on_ground(factor: str) -> Evidence:
    """Return a run with lengths on the ground, where the job asks for a factor of 0.999634."""
    asked = {"scale_basis": "ground", "combined_factor": 0.999634}
    made = Records().rig().flight()
    made.specification = Specification(coordinates=COORDINATES.model_copy(update=asked))
    changes = {
        "run.scale_basis": "ground",
        "run.combined_factor": factor,
        "run.scale_origin": "552000 4272000",
        "run.scale_height": "180",
    }
    return made.process(changes=changes).deliver("tile_01.las", "R1").evidence()


CASES: tuple[Planted, ...] = (
    record(
        "base antenna read twice",
        BaseHeight(),
        make_chain(flight__base_height_again="1.527"),
        make_chain(flight__base_height_again="1.526"),
        gate="0.004 m apart against 0.003 m",
    ),
    record(
        "base height typed beside the one in the log",
        BaseChain(),
        make_chain(flight__base_height="1.530"),
        make_chain(flight__base_height="1.526"),
        gate="0.0065 m apart against 0.0025 m",
        ids=("SC-19",),
    ),
    record(
        "epoch of input and output",
        FrameChain(),
        make_chain(flight__epoch="2026.4"),
        make_chain(flight__epoch="2010.00"),
        ids=("SC-15", "CR-03"),
    ),
    record(
        "range shorter than the flight was high",
        RangeLimits(),
        make_chain(run__range_max="84.0"),
        make_chain(run__range_max="84.1"),
        gate="84.0 m against 84.1 m at 50° from 45 m",
        ids=("SC-32",),
    ),
    record(
        "two runs in different frames",
        RunAgreement(),
        _make_two_runs(frame="ITRF2014"),
        _make_two_runs(range_max="90.0"),
    ),
    record(
        "a bracket changed, its arm not",
        BracketChange(),
        _change_bracket("2026-06-15T09:00:00Z"),
        _change_bracket("2026-01-15T09:00:00Z"),
        gate="flown after the change against before",
    ),
    record(
        "neither control nor a checkpoint",
        ControlChain(),
        _claim(False, is_stated=False),
        _claim(True, is_stated=False),
        ids=("SC-20",),
    ),
    record(
        "an accuracy that nothing bears out",
        ControlChain(),
        _claim(False, is_stated=True),
        _claim(True, is_stated=True),
        ids=("CP-06",),
    ),
    record(
        "a combined factor that is not the one asked for",
        ScaleBasis(),
        _set_on_ground("0.9996351"),
        _set_on_ground("0.9996349"),
        gate="1.1 ppm against 0.9 ppm",
        ids=("SC-27", "CR-04", "SL-08"),
    ),
    Planted(
        "export-settings",
        "coordinates stored too coarsely for the accuracy",
        lambda _: drive_check(ExportSettings(), make_chain(), criteria={"accuracy_m": 0.0099}),
        lambda _: drive_check(ExportSettings(), make_chain(), criteria={"accuracy_m": 0.01}),
        gate="0.0099 m against 0.01 m asked for, stored to 0.001 m",
        ids=("SC-34",),
    ),
    record(
        "thinned below the density asked for",
        ExportSettings(),
        make_chain(run__thinning="spacing", run__thinning_spacing="0.71"),
        make_chain(run__thinning="spacing", run__thinning_spacing="0.70"),
        gate="one in 0.71 m against one in 0.70 m for 4 points/m²",
        ids=("PS-04",),
    ),
    record(
        "an arm longer than a drone",
        LengthUnits(),
        make_chain(run__lever_arm=["0", "0", "1.501"]),
        make_chain(run__lever_arm=["0", "0", "1.5"]),
        gate="1.501 m against 1.5 m",
    ),
)
