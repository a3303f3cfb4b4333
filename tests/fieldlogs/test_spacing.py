"""How epochs follow on each other."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from open_data import OpenFile

from ledger.fieldlogs.rinex import read_rinex
from ledger.fieldlogs.spacing import Spacing, SpacingFacts


def space(times: object, stated: float | None = None) -> SpacingFacts:
    """Return the facts of these times."""
    spacing = Spacing()
    for time in np.asarray(times, dtype=float).tolist():
        spacing.add(time)
    return spacing.close(stated)


def test_an_even_log_has_no_gap() -> None:
    """Every second is there."""
    facts = space(range(100))
    assert (facts.step_s, facts.missing, facts.gaps) == (1.0, 0, ())


def test_a_gap_is_told_with_what_is_absent() -> None:
    """Seconds 40 to 49 are absent: ten epochs, and eleven seconds without one."""
    facts = space([*range(40), *range(50, 100)])
    assert (facts.missing, facts.gaps) == (10, ((39.0, 11.0),))


def test_jitter_is_no_gap() -> None:
    """A clock that is off by some milliseconds misses nothing."""
    random = np.random.default_rng(3)
    facts = space(np.arange(500) * 0.1 + random.uniform(-0.004, 0.004, 500))
    assert (facts.missing, facts.gaps) == (0, ())
    assert facts.step_s == pytest.approx(0.1, abs=0.008)


def test_times_that_do_not_go_forward_are_counted() -> None:
    """A repeated and an earlier time are counted, and no step is taken from them."""
    facts = space([0, 1, 1, 2, 1, 3])
    assert (facts.repeated, facts.backward, facts.missing) == (1, 1, 0)


def test_one_epoch_has_no_step() -> None:
    """Nothing follows on a single epoch."""
    assert space([5]).step_s is None


def test_the_stated_step_tells_what_is_absent() -> None:
    """Of a log that states 30 s, two steps of 60 s miss two epochs."""
    facts = space([0, 60, 120], stated=30.0)
    assert (facts.step_s, facts.missing) == (60.0, 2)


def test_only_the_longest_gaps_are_kept() -> None:
    """However many gaps a log has, memory is bounded and the longest are there."""
    lengths = np.tile([1.0, 1.0, 1.0, 5.0], 5000)
    lengths[3] = 99.0
    facts = space(np.concatenate([[0.0], np.cumsum(lengths)]))
    assert facts.longest_gap_s == 99.0
    assert len(facts.gaps) == 50
    assert facts.missing == 98 + 4999 * 4


# Differences of the epoch lines of the files, read by eye.
@pytest.mark.parametrize(
    ("name", "step", "missing", "longest"),
    [
        ("gps.23O.gz", "30.000", 22, "510.000"),
        ("ALAC00ESP_R_20220090000_01D_30S_MO.rnx", "30.000", 25, "780.000"),
        ("AJAC3550.21O", "30.000", 0, "0.000"),
        ("DUTH0630.22O", "1710.000", 112, "1710.000"),
    ],
)
def test_real_observation_files(
    open_file: OpenFile, name: str, step: str, missing: int, longest: str
) -> None:
    """The gaps of real files are told; most of these were cut from a day."""
    facts = read_rinex(open_file(f"rinex/{name}"))
    assert (facts.step_s, facts.missing, facts.longest_gap_s) == (step, missing, longest)


def _write_new(path: Path, version: str, lines: list[str]) -> Path:
    head = f"{f'     {version}           OBSERVATION DATA    M':<60}RINEX VERSION / TYPE\n"
    end = f"{'':<60}END OF HEADER\n"
    path.write_text(head + end + "\n".join(lines) + "\n", encoding="ascii")
    return path


def test_events_are_no_epochs(tmp_path: Path) -> None:
    """Of RINEX 3 and 4, flags 0 and 1 are epochs; the others tell events (RINEX 3.04, table A3)."""
    lines = [
        "> 2026 05 12 14 00 00.0000000  0  1",
        "G01  22000000.000",
        "> 2026 05 12 14 00 01.0000000  1  1",
        "G01  22000000.000",
        ">                              4  1",
        f"{'antenna moved':<60}COMMENT",
        "> 2026 05 12 14 00 02.0000000  0  1",
        "G01  22000000.000",
    ]
    for version in ("3.04", "4.01"):
        facts = read_rinex(_write_new(tmp_path / "a.rnx", version, lines))
        assert (facts.epochs, facts.bad_lines, facts.missing) == (3, 0, 0)


def test_events_of_the_old_form(tmp_path: Path) -> None:
    """Of RINEX 2, a line with an event flag is no epoch and not damaged (RINEX 2.11, table A2)."""
    lines = [
        " 26  5 12 14  0  0.0000000  0  1G01",
        "  22000000.000",
        "                            4  1",
        f"{'antenna moved':<60}COMMENT",
        " 26  5 12 14  0  1.0000000  0  1G01",
        "  22000000.000",
    ]
    facts = read_rinex(_write_new(tmp_path / "a.26o", "2.11", lines))
    assert (facts.epochs, facts.bad_lines) == (2, 0)
