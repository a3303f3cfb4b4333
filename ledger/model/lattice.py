"""The lattice on which coordinates are whole numbers."""

from __future__ import annotations

from ledger.dataclass import dataclass


@dataclass(frozen=True)
class Lattice:
    """The audit-wide lattice on which coordinates are whole numbers.

    Args:
        steps_xy: lattice steps in one unit of X and Y: 10^4, or 10^9 for degrees.
        steps_z: lattice steps in one unit of Z: 10^4.
    """

    steps_xy: int
    steps_z: int
