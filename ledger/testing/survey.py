"""`SurveyBuilder`: a tiny survey on disk, with any fault that a check has to find."""

from __future__ import annotations

from ledger.testing.file_faults import FileFaults, HeaderFaults
from ledger.testing.point_faults import PointFaults


class SurveyBuilder(PointFaults, HeaderFaults, FileFaults):
    """Makes a tiny survey in a folder and spoils it, one method a fault.

    The files are written at once, and again after each change. Methods return the survey, so that
    faults can be put one after the other:

        survey = SurveyBuilder(tmp_path / "out", Layout(version="1.2", point_format=3))
        survey.shift_heights("tile_0_0", 0.25).no_crs("tile_1_0")
        survey.paths

    Changes of points and of the layout come first and damage to bytes last, in whatever order they
    are called: a tile that is written again is damaged again.
    """
