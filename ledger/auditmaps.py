"""The maps that an audit keeps, read back from the book."""

from __future__ import annotations

import numpy as np

from ledger.model.entry import Entry
from ledger.model.raster import Raster
from ledger.store.reading import Book


def read_maps(book: Book, audit: Entry) -> tuple[Raster, ...]:
    """Return the maps of an audit, in the order in which its checks drew them.

    Raises:
        BookError: the book holds the values of one no more.
    """
    return tuple(
        Raster(
            name=str(row["name"]),
            title=str(row["title"]),
            unit=str(row["unit"]),
            step=float(row["step"]),
            origin=(float(row["origin"][0]), float(row["origin"][1])),
            cell=float(row["cell"]),
            values=np.frombuffer(book.blob(str(row["sha256"])), dtype="<i4").reshape(
                int(row["rows"]), int(row["columns"])
            ),
            check=str(row["check"]),
            cell_unit=str(row.get("cell_unit", "")),
        )
        for row in audit.values.get("rasters") or ()
    )
