"""Checks of logs, one answer after another."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from made_beside import TILE, look_beside, make_beside_track, make_points
from made_cloud import make_header
from made_logs import TAKEOFF, Flown, float_from, judge_logs, make_base, make_log, make_track
from made_records import READING
from planted_roll import look as look_at_roll

from ledger.contract.check import Check, Finding, Grade, Outcome
from ledger.contract.registry import build_registry
from ledger.model.known import KnownBy, KnownValue
from ledger.testing import check_tally_laws, cut, drive_check, make_chunk, make_file
from lidar_checks.flight.base_epochs import BaseEpochs
from lidar_checks.flight.clock_offset import ClockOffset
from lidar_checks.flight.fix_quality import FixQuality
from lidar_checks.flight.path_height import PathHeight
from lidar_checks.flight.points_below import PointsBelow
from lidar_checks.flight.track_jumps import TrackJumps
from lidar_checks.flight.track_times import TrackTimes


def judge(check: Check, *logs: Any, **parts: Any) -> tuple[Finding, ...]:
    """Return what a check finds in these logs of one flight."""
    return drive_check(check, judge_logs(*logs, **parts))


def test_undeclared_clocks_are_told_with_seconds_and_metres() -> None:
    """Sentences in UTC beside a track of no declared scale: 18.0 s, UTC and GPS, 90 m at 5 m/s."""
    (found,) = judge(ClockOffset(), make_log(), make_track(scale=None))
    assert (found.outcome, found.grade) == (Outcome.NONCONFORMING, Grade.MINOR)
    assert abs(abs(float(found.observed)) - 18.0) <= 0.2
    assert found.unit == "s"
    assert "18.0 s ± 0.1 s apart: one is UTC, the other GPS time" in found.sentence
    assert "90 m along the track at 5.0 m/s" in found.sentence


def test_declared_clocks_raise_no_alarm() -> None:
    """The same logs, once both say their scale."""
    declared = KnownValue("GPS", known_by=KnownBy.TYPED)
    (found,) = judge(ClockOffset(), make_log(), make_track(scale=declared))
    assert found.outcome is Outcome.CONFORMS


def test_a_track_that_runs_in_utc_fits_as_it_stands() -> None:
    """An undeclared track that shows what the sentences show can be joined as it stands."""
    (found,) = judge(ClockOffset(), make_log(), make_track(scale=None, late=-18.0))
    assert found.outcome is Outcome.CONFORMS
    assert "as they stand" in found.sentence


def test_too_regular_a_flight_is_inconclusive() -> None:
    """Where a flight fits itself two lines later, and systems differ, nothing is claimed."""
    flown = Flown(lines=20, cross=0.0, still=0.0)
    (found,) = judge(ClockOffset(), make_log(flown), make_track(flown, place="local"))
    assert found.outcome is Outcome.INCONCLUSIVE


@pytest.mark.parametrize(
    ("seconds", "source", "grade"),
    [
        (14.0, "aircraft receiver", Grade.MINOR),
        (31.0, "aircraft receiver", Grade.MAJOR),
    ],
)
def test_stretches_without_a_fix(seconds: float, source: str, grade: Grade) -> None:
    """More than 10 s on a line is minor, more than 30 s major; place in time and line are named."""
    log = make_log(quality=float_from(50, seconds))
    (found,) = judge(FixQuality(), log, card={"position_source": source})
    assert found.grade is grade
    assert found.where.time_span is not None
    assert found.where.time_span[0] == "2026-05-12T14:00:50Z"
    assert found.sentence.startswith("Line 1 of F1")
    assert float(found.observed) == pytest.approx(seconds, abs=1)


def test_what_happens_in_a_turn_does_not_count() -> None:
    """A receiver that loses its fix in a turn loses nothing that is delivered."""
    turn = 40 + 60 + 4
    (found,) = judge(FixQuality(), make_log(quality=float_from(turn, 5)))
    assert found.outcome is Outcome.CONFORMS


def test_the_tiles_below_are_named() -> None:
    """Files whose box lies under the stretch stand in the sentence, others do not."""
    near = make_header((552_000.0, 4_271_990.0, 552_300.0, 4_272_010.0))
    far = make_header((552_000.0, 4_272_150.0, 552_300.0, 4_272_200.0))
    files = (
        make_file("near.laz", header=near, crs=READING),
        make_file("far.laz", header=far, crs=READING),
    )
    (found,) = judge(FixQuality(), make_log(quality=float_from(50, 14)), files=files)
    assert "above near.laz" in found.sentence
    assert "far.laz" not in found.sentence


def test_qualities_of_an_unknown_coding_cannot_pass() -> None:
    """A column of a table that holds 4 may be that of a receiver; that is a guess."""
    guessed = KnownValue("GGA", known_by=KnownBy.ASSUMED, confirmed=False, where="fix")
    (found,) = judge(FixQuality(), make_track(quality_known=guessed))
    assert found.outcome is Outcome.INCONCLUSIVE
    (found,) = judge(FixQuality(), make_track(quality_known=guessed, quality=float_from(50, 14)))
    assert found.grade is Grade.MINOR


def test_a_reserve_log_is_only_observed() -> None:
    """Where a receiver in the air gave the positions, holes in the base log are an observation."""
    (found,) = judge(
        BaseEpochs(), make_base(missing=100), card={"position_source": "aircraft receiver"}
    )
    assert found.grade is Grade.OBSERVATION


def test_a_log_that_is_gone_is_not_assessed() -> None:
    """A log whose file is not there is named, with the reason and what to do."""
    (found,) = judge(TrackTimes(), make_track(series=None, fault="the file cannot be read"))
    assert found.outcome is Outcome.NOT_ASSESSED
    assert found.needs == ("trajectory: the file cannot be read",)
    assert found.remedy


@pytest.mark.parametrize(
    "name",
    sorted(
        each.check.id
        for each in build_registry().checks
        if type(each.check).__module__.startswith("lidar_checks.flight.")
    ),
)
def test_nothing_is_nothing(name: str) -> None:
    """A flight without a log, and no flight at all, pass nothing."""
    check = next(each.check for each in build_registry().checks if each.check.id == name)
    for evidence in (judge_logs(), judge_logs(flights=())):
        for found in drive_check(check, evidence):
            assert found.outcome in (Outcome.NOT_ASSESSED, Outcome.INCONCLUSIVE)


def test_week_seconds_are_joined_with_the_path() -> None:
    """Points whose times are seconds of the week lie beside the path as others do."""
    points = make_points(2000)
    week = np.floor(TAKEOFF / 604_800) * 604_800
    points["gps_time"] = points["gps_time"] + 1e9 - week
    header = make_header((552_000, 4_272_000, 552_300, 4_272_210), count=2000, encoding=16)
    evidence = judge_logs(
        make_beside_track(),
        files=(make_file(TILE, header=header, crs=READING),),
        card={"height_above_ground": "45"},
    )
    (found,) = drive_check(PathHeight(), evidence, {TILE: [make_chunk(points)]})
    assert "lies 45 m above" in found.sentence


def test_an_inverted_scanner_is_major() -> None:
    """A cloud above the path is of a mount mode, an orientation or a unit that was set wrong."""
    points = make_points(2000)
    points["z"] = points["z"] + 90.0
    found = look_beside(PointsBelow(), points)
    assert "another unit" in found[0].sentence
    assert found[0].grade is Grade.MAJOR
    assert found[0].catalogue[0] == "MB-01"


def test_heights_that_nobody_declared_prove_nothing() -> None:
    """Where nothing says which heights the path has, nothing passes and nothing is claimed."""
    points = make_points(2000)
    (found,) = look_beside(PathHeight(), points, make_beside_track(height_type=None))
    assert found.outcome is Outcome.INCONCLUSIVE
    points["z"] = points["z"] + 90.0
    found, *_ = look_beside(PointsBelow(), points, make_beside_track(height_type=None))
    assert found.outcome is Outcome.INCONCLUSIVE


def test_the_tally_keeps_the_laws() -> None:
    """Points in any order and portions give the same counts, also where a share is looked at."""
    points = make_points(3000)
    header = make_header((552_000, 4_272_000, 552_300, 4_272_210), count=200_000)
    file = make_file(TILE, header=header, crs=READING)
    evidence = judge_logs(make_beside_track(), files=(file,))
    check_tally_laws(PathHeight(), cut(make_chunk(points), 700), evidence=evidence, file=file)


@pytest.mark.parametrize("angle", [-0.08, 0.0, 0.06])
def test_a_roll_is_told_with_its_sign_and_how_sure_it_is(angle: float, tmp_path: Path) -> None:
    """A point at `a` metres to the right lies `a tan(angle)` too high; the angle comes back."""
    (found,) = look_at_roll(angle)(tmp_path)
    told = re.search(r"off by ([+-][\d.]+)° ± ([\d.]+)°", found.sentence)
    assert told is not None
    assert float(told[1]) == pytest.approx(angle, abs=max(float(told[2]), 0.002))
    assert float(told[2]) < 0.01


def test_swaths_of_one_direction_tell_no_roll(tmp_path: Path) -> None:
    """Two swaths flown north differ by a step, which a receiver may make as well."""
    (found,) = look_at_roll(0.1, is_back=False)(tmp_path)
    assert found.outcome is Outcome.INCONCLUSIVE


def test_a_damaged_log_is_copied_again() -> None:
    """Neither unpacking nor a drive mends a file that was cut on its way."""
    (base,) = judge(BaseEpochs(), make_base(span_s=None))
    assert "copy it from the receiver again" in base.remedy
    (track,) = judge(TrackTimes(), make_track(series=None, fault="it ends inside a record"))
    assert "copy it from the card again" in track.remedy


def test_a_compact_base_log_is_refused_in_one_line() -> None:
    """Of Hatanaka's form the header alone is read, and what to do stands beside it."""
    (found,) = judge(BaseEpochs(), make_base(is_compact=True, span_s=None))
    assert found.outcome is Outcome.NOT_ASSESSED
    assert "Hatanaka's compact form" in found.sentence
    assert found.remedy.startswith("Get the plain observation file")


def test_few_or_rare_positions_show_no_jump() -> None:
    """A track of one position in two seconds says nothing of jumps, nor one that is empty."""
    for keep in (lambda time: time % 2 < 0.5, lambda time: time < 5):
        (found,) = judge(TrackJumps(), make_track(keep=keep))
        assert found.outcome is Outcome.INCONCLUSIVE
    (told,) = judge(TrackJumps(), make_track())
    assert told.outcome is Outcome.CONFORMS
