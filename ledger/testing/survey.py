"""`SurveyBuilder`: a tiny survey on disk, with any fault that a check has to find."""

from __future__ import annotations

import laspy
import numpy as np

from ledger.model.chunk import Lattice, PointChunk
from ledger.testing.chunks import METRES, make_chunk
from ledger.testing.file_faults import FileFaults, HeaderFaults
from ledger.testing.point_faults import PointFaults
from ledger.testing.tiles import TileName


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

    def chunk(self, tile: TileName = 0, lattice: Lattice = METRES) -> PointChunk:
        """Return all points of one tile as stored, with every field, by reading the file.

        Args:
            tile: which; its file has to be readable.
            lattice: lattice of the coordinates.
        """
        las = laspy.read(self.path(tile))
        names = [name for name in las.point_format.dimension_names if name not in {"X", "Y", "Z"}]
        standard = set(las.point_format.standard_dimension_names)
        fields = {
            name if name in standard else f"extra:{name}": np.array(las[name]) for name in names
        }
        axes = {name: np.array(las[name]) for name in ("x", "y", "z")}
        return make_chunk(axes | fields, lattice, is_complete=True)
