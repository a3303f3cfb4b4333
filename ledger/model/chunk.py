"""A slice of points as checks see it.

Only decoded fields can be asked for: a field that was not decompressed looks alive (it repeats a
stale value), so asking for it raises instead. Arrays are read-only, so that no check can alter what
the next one sees.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

import numpy as np
from numpy.typing import NDArray

from ledger.errors import ContractError
from ledger.model.lattice import Lattice

__all__ = ["Int64Array", "Lattice", "PointChunk"]

Int64Array = NDArray[np.int64]


class PointChunk:
    """Some points of one file.

    Attributes:
        x, y, z: int64 coordinates on the lattice, shape (n,).
        lattice: the lattice of x, y and z.
        rounded: whether stored coordinates had to be rounded to the lattice.
        is_complete: whether every field that the file holds was decoded.
    """

    def __init__(  # noqa: PLR0913 - three axes and what belongs to them
        self,
        x: Int64Array,
        y: Int64Array,
        z: Int64Array,
        lattice: Lattice,
        fields: Mapping[str, NDArray[np.generic]],
        *,
        rounded: bool = False,
        is_complete: bool = False,
    ) -> None:
        """Take arrays of one length and forbid writing to them.

        Args:
            x: easting or longitude, lattice steps, int64, (n,).
            y: northing or latitude, lattice steps, int64, (n,).
            z: height, lattice steps, int64, (n,).
            lattice: the lattice.
            fields: decoded fields by LAS name in snake case (`gps_time`, `return_number`,
                `number_of_returns`, `classification`, `point_source_id`, `withheld` …), (n,).
            rounded: whether any stored coordinate lies between two lattice steps.
            is_complete: whether every field that the file holds was decoded.
        """
        self.x, self.y, self.z = x, y, z
        self.lattice = lattice
        self.rounded = rounded
        self.is_complete = is_complete
        self._fields = dict(fields)
        self._shared: dict[str, NDArray[np.generic]] = {}
        for array in (x, y, z, *self._fields.values()):
            array.flags.writeable = False

    def __len__(self) -> int:
        """Return the number of points."""
        return len(self.x)

    @property
    def names(self) -> frozenset[str]:
        """Return the names of the decoded fields."""
        return frozenset(self._fields)

    def __getitem__(self, name: str) -> NDArray[np.generic]:
        """Return one decoded field.

        Raises:
            ContractError: the field was not decoded; the check must name it in `dimensions`.
        """
        try:
            return self._fields[name]
        except KeyError:
            raise ContractError(
                f"field {name!r} was not decoded for this pass",
                expected=", ".join(sorted(self._fields)),
                remedy="name it in the check's dimensions",
            ) from None

    def shared(self, name: str, compute: Callable[[], NDArray[np.generic]]) -> NDArray[np.generic]:
        """Return a derived array, computed once a slice for all checks that name it alike.

        Args:
            name: what is computed, with its parameters ("cell index, 10000 steps").
            compute: makes the array, (n,); called at most once a slice.
        """
        if name not in self._shared:
            array = compute()
            array.flags.writeable = False
            self._shared[name] = array
        return self._shared[name]

    def slice(self, start: int, stop: int) -> PointChunk:
        """Return the points from `start` up to `stop` as views."""
        return PointChunk(
            self.x[start:stop],
            self.y[start:stop],
            self.z[start:stop],
            self.lattice,
            {name: array[start:stop] for name, array in self._fields.items()},
            rounded=self.rounded,
            is_complete=self.is_complete,
        )
