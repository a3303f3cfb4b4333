"""A slice of points as checks see it.

Only decoded fields can be asked for: a field that was not decompressed looks alive (it repeats a
stale value), so asking for it raises instead. A chunk and its arrays are read-only, so that no
check can alter what the next one sees.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import cached_property
from typing import NoReturn

import numpy as np
from numpy.typing import NDArray

from ledger.errors import ContractError
from ledger.model.lattice import Lattice

__all__ = ["Int64Array", "Lattice", "PointChunk"]

Int64Array = NDArray[np.int64]
Box = tuple[tuple[int, int, int], tuple[int, int, int]]


class PointChunk:
    """Some points of one file.

    Attributes:
        x, y, z: int64 coordinates on the lattice, shape (n,).
        lattice: the lattice of x, y and z.
        rounded: whether stored coordinates had to be rounded to the lattice.
        is_complete: whether every field that the file holds was decoded.
    """

    x: Int64Array
    y: Int64Array
    z: Int64Array
    lattice: Lattice
    rounded: bool
    is_complete: bool
    _fields: dict[str, NDArray[np.generic]]
    _shared: dict[tuple[str, str], NDArray[np.generic]]

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
        vars(self).update(
            x=x,
            y=y,
            z=z,
            lattice=lattice,
            rounded=rounded,
            is_complete=is_complete,
            _fields=dict(fields),
            _shared={},
        )
        for array in (x, y, z, *self._fields.values()):
            array.flags.writeable = False

    def __setattr__(self, name: str, value: object) -> NoReturn:
        """Refuse: other checks are fed from the same points.

        Raises:
            ContractError: always.
        """
        raise ContractError(f"{name} of the points cannot be altered", remedy="make a copy")

    def __len__(self) -> int:
        """Return the number of points."""
        return len(self.x)

    @cached_property
    def box(self) -> Box:
        """Return the least and the greatest x, y and z, found once for all; the chunk has points.

        Raises:
            ValueError: it has none.
        """
        axes = (self.x, self.y, self.z)
        low, high = ([int(end(axis)) for axis in axes] for end in (np.min, np.max))
        return (low[0], low[1], low[2]), (high[0], high[1], high[2])

    def span(self, axis: str) -> tuple[int, int]:
        """Return the least and the greatest `x`, `y` or `z`; the chunk has points."""
        low, high = self.box
        index = "xyz".index(axis)
        return low[index], high[index]

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
        """Return a derived array, computed once a slice for all checks of a package that name it.

        Args:
            name: what is computed, with its parameters ("cell index, 10000 steps").
            compute: makes the array, (n,); called at most once a slice.
        """
        # By package as well: under one name another plugin may compute something else.
        key = (str(getattr(compute, "__module__", "")).partition(".")[0], name)
        if key not in self._shared:
            array = compute()
            array.flags.writeable = False
            self._shared[key] = array
        return self._shared[key]

    def slice(self, start: int, stop: int) -> PointChunk:
        """Return the points from `start` up to `stop` as views."""
        if start == 0 and stop >= len(self):
            return self
        return PointChunk(
            self.x[start:stop],
            self.y[start:stop],
            self.z[start:stop],
            self.lattice,
            {name: array[start:stop] for name, array in self._fields.items()},
            rounded=self.rounded,
            is_complete=self.is_complete,
        )
