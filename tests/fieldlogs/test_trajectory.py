"""Binary trajectories."""

from __future__ import annotations

from pathlib import Path

import pytest
from open_data import OpenFile

from ledger.errors import MalformedFileError
from ledger.fieldlogs.trajectory import read_trajectory


def test_a_real_file(open_file: OpenFile) -> None:
    """Two records, the first at 32.5452166 N, 116.9781799 W, 107.7153 m."""
    facts = read_trajectory(open_file("trajectory/2-points.sbet"))
    assert facts.records == 2
    assert (facts.latitude, facts.longitude) == ("32.5452166", "-116.9781799")
    assert (facts.height_m, facts.first_s) == ("107.7153", "151631.0028")


def test_a_cut_record_is_malformed(open_file: OpenFile) -> None:
    """271 bytes are no whole number of records of 136."""
    with pytest.raises(MalformedFileError, match="271"):
        read_trajectory(open_file("trajectory/badfile.sbet"))


def test_impossible_values_are_refused(tmp_path: Path) -> None:
    """Bytes that are no trajectory do not become one by their length alone."""
    path = tmp_path / "noise.sbet"
    path.write_bytes(b"\xff" * 272)
    with pytest.raises(MalformedFileError):
        read_trajectory(path)
