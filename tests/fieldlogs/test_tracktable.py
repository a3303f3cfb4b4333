"""Trajectories as tables, in any order of columns."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from ledger.content import read_facts
from ledger.errors import MalformedFileError
from ledger.fieldlogs import series
from ledger.fieldlogs.series import COLUMNS, SeriesBuilder
from ledger.fieldlogs.trackcolumns import understand_columns
from ledger.fieldlogs.tracktable import TableTrack, read_track_table


def read(tmp_path: Path, text: str, encoding: str = "utf-8") -> TableTrack:
    """Write a table and read it."""
    path = tmp_path / "track.csv"
    path.write_bytes(text.encode(encoding))
    return read_track_table(path)


def test_columns_in_any_order(tmp_path: Path) -> None:
    """What a column holds is told by its name, not by its place."""
    track = read(
        tmp_path, "fix,Northing,Easting [m],roll_deg,gps_time,height\n4,20,10,1.5,1462629618,250\n"
    )
    row = track.gathered.rows[0]
    assert row[[series.X, series.Y, series.HEIGHT, series.ROLL]].tolist() == [10, 20, 250, 1.5]
    assert track.qualities == {4: 1}
    assert track.columns["roll"].unit == "deg"


@pytest.mark.parametrize(
    "text",
    [
        "time;lon;lat;h\n1,5;7,25;50,5;100,25\n",
        "time\tlon\tlat\th\n1.5\t7.25\t50.5\t100.25\n",
        "# time lon  lat   h\n 1.5 7.25  50.5 100.25 \n",
        "\ufefftime,lon,lat,h\r\n1.5,7.25,50.5,100.25\r\n",
        'time,lon,lat,h\n"1.5","7.25","50.5","100.25"\n',
    ],
    ids=["decimal comma", "tab", "blanks and a marked header", "mark and Windows", "quoted"],
)
def test_forms_of_a_table(tmp_path: Path, text: str) -> None:
    """Separators, decimal commas, byte order marks and quotes are read alike."""
    track = read(tmp_path, text)
    found = track.gathered.rows[0, [series.TIME, series.X, series.Y, series.HEIGHT]]
    assert found.tolist() == [1.5, 7.25, 50.5, 100.25]
    assert track.is_lonlat


def test_moments_and_times_of_day(tmp_path: Path) -> None:
    """Date and time count from the origin of GPS time, a time of day from midnight."""
    moments = read(tmp_path, "time,x,y\n1980-01-06T00:00:01Z,1,2\n1980/01/06 00:00:02.5Z,1,2\n")
    assert moments.gathered.rows[:, series.TIME].tolist() == [1.0, 2.5]
    assert (moments.clock, moments.zoned) == ("moment", True)
    days = read(tmp_path, "time,x,y\n14:00:00.5,1,2\n")
    assert (days.clock, days.gathered.rows[0, series.TIME]) == ("time of day", 50_400.5)


def test_damaged_lines_are_counted(tmp_path: Path) -> None:
    """A line cut short, one without a time and one with a word for it are left out and counted."""
    track = read(tmp_path, "time,x,y\n1,1,2\n2,1\n,1,2\nlater,1,2\n3,1,\n4,1,2\n")
    assert track.gathered.rows[:, series.TIME].tolist() == [1, 3, 4]
    assert np.isnan(track.gathered.rows[1, series.Y])
    assert track.bad == 3


def test_words_for_the_quality(tmp_path: Path) -> None:
    """Fixed and float are understood as words."""
    track = read(tmp_path, "time,x,y,fix\n1,1,2,fixed\n2,1,2,Float\n")
    assert track.qualities == {4: 1, 5: 1}


def test_a_table_without_names_is_refused(tmp_path: Path) -> None:
    """Nothing is guessed from the place of a column."""
    with pytest.raises(MalformedFileError, match="which column is the time"):
        read(tmp_path, "1,2,3,4\n2,2,3,4\n")


def test_half_a_place_is_none() -> None:
    """An easting without a northing is not understood."""
    assert set(understand_columns(["time", "easting", "height"])) == {"time", "height"}


def test_long_logs_are_thinned_and_change_of_quality_is_kept() -> None:
    """At most so many rows are kept, evenly, and every change of the quality; gaps are all told."""
    count = 50_000
    rows = np.full((count, COLUMNS), np.nan)
    rows[:, series.TIME] = np.arange(count) / 200
    rows[count // 2 :, series.TIME] += 12.0
    rows[:, series.QUALITY] = 4
    rows[30_001:30_004, series.QUALITY] = 5
    builder = SeriesBuilder(most=4000)
    for part in np.array_split(rows, 17):
        builder.add(part)
    gathered = builder.close()
    assert gathered.epochs == count
    assert len(gathered.rows) <= 4000
    assert np.count_nonzero(gathered.rows[:, series.QUALITY] == 5) == 1
    assert gathered.spacing.longest_gap_s == pytest.approx(12.005)
    assert gathered.spacing.step_s == 0.005
    steps = np.diff(gathered.rows[:, series.TIME])
    assert np.median(steps) == pytest.approx(gathered.step_s)


def test_how_slices_are_cut_does_not_count() -> None:
    """The same epochs in other slices give the same rows and the same counts."""
    random = np.random.default_rng(7)
    rows = np.full((999, COLUMNS), np.nan)
    rows[:, series.TIME] = np.cumsum(random.choice([0.0, 0.1, 0.1, 0.1, 3.0, -0.05], 999))
    found = []
    for pieces in (1, 7, 999):
        builder = SeriesBuilder()
        for part in np.array_split(rows, pieces):
            builder.add(part)
        gathered = builder.close()
        spacing = gathered.spacing
        found.append(
            (
                gathered.rows[:, series.TIME].tolist(),
                (spacing.repeated, spacing.backward, spacing.missing, spacing.longest_gap_s),
            )
        )
    assert found[0] == found[1] == found[2]


def test_what_a_table_says_of_itself(tmp_path: Path) -> None:
    """Rows, times as written and what was understood, whatever the name of the file."""
    path = tmp_path / "positions.csv"
    path.write_text(
        "# flown in the morning\ntime,lon,lat,note\n1.5,7,50,a\n2,7\n3.5,7,50,\n", encoding="ascii"
    )
    facts = read_facts(path)
    assert facts.role == "trajectory"
    assert facts.values["understood"] == {"latitude": "lat", "longitude": "lon", "time": "time"}
    assert (facts.values["begins"], facts.values["ends"]) == ("1.5", "3.5")
    assert (facts.values["rows"], facts.values["skipped"]) == (2, 1)


def test_points_are_no_trajectory(tmp_path: Path) -> None:
    """A table of named points is one of points, also where it tells when each was surveyed."""
    path = tmp_path / "points.csv"
    path.write_text("id,e,n,h,time\nA,1,2,3,4\nB,2,3,4,5\n", encoding="ascii")
    assert read_facts(path).role == "checkpoints"
