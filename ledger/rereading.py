"""Reading the points of one file again, for its fingerprint alone."""

from __future__ import annotations

from pathlib import Path

from ledger.errors import SwathbookError
from ledger.fingerprint import DIMENSIONS, Fingerprint
from ledger.lasheader import read_las_header
from ledger.lattice import choose_lattice
from ledger.model.artefact import FingerprintValue
from ledger.points import read_points


def read_fingerprint(path: Path) -> FingerprintValue | None:
    """Return the fingerprint of a point file; None when its points cannot be read whole."""
    try:
        header = read_las_header(path)
        lattice = choose_lattice(header)
        fingerprint = Fingerprint(lattice)
        for chunk in read_points(path, header, lattice, DIMENSIONS, parallel=True):
            fingerprint.add(chunk)
    except SwathbookError:
        return None
    return fingerprint.value()
