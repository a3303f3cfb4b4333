"""Headers and delivered files made by hand, good but for what is changed."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from ledger.contract.evidence import DeliveredFile, ReadFacts
from ledger.model.georeferencing import Crs, CrsReading, CrsRecord
from ledger.model.header import LasHeader
from ledger.model.lineage import Custody, CustodyState, Line, MatchedBy
from ledger.model.process import Process
from ledger.testing.driver import make_file

ABSENT = CrsRecord(present=False)

# A LAS 1.4 header of 1000 points of format 6 in UTM 17N; sizes by ASPRS LAS 1.4 R15.
_BY_RETURN = (900, 80, 20, *(0,) * 12)
_HEADER = LasHeader(
    version="1.4",
    point_format=6,
    compressed=False,
    copc=False,
    record_length=30,
    point_count=1000,
    legacy_count=0,
    by_return=_BY_RETURN,
    legacy_by_return=(0,) * 5,
    scale=(0.001, 0.001, 0.001),
    offset=(552_000.0, 4_272_000.0, 0.0),
    minimum=(552_000.0, 4_272_000.0, 210.0),
    maximum=(552_080.0, 4_272_080.0, 230.0),
    global_encoding=17,
    file_source_id=0,
    system_identifier="OTHER",
    generating_software="demo-proc 4.1.0",
    creation_day=134,
    creation_year=2026,
    header_size=375,
    offset_to_points=1000,
    file_size=1000 + 1000 * 30,
)


def make_header(**changes: Any) -> LasHeader:
    """Return a good header with some fields changed."""
    return replace(_HEADER, **changes)


def make_reading(header: LasHeader, **changes: Any) -> ReadFacts:
    """Return what reading all points of a file with this header gives, with some facts changed."""
    facts = ReadFacts(
        decoded=header.point_count,
        by_return=(0, *header.by_return),
        minimum=header.minimum,
        maximum=header.maximum,
    )
    return replace(facts, **changes)


def make_crs_reading(crs: Crs | None, *, geotiff: Crs | None = None, **parts: Any) -> CrsReading:
    """Return a reading of which the WKT record governs; no record at all for None."""
    wkt = ABSENT if crs is None else CrsRecord(present=True, crs=crs, text=crs.wkt)
    keys = ABSENT if geotiff is None else CrsRecord(present=True, crs=geotiff)
    governing = wkt if wkt.present else keys
    return CrsReading(**{"wkt": wkt, "geotiff": keys, "governing": governing, **parts})


def deliver(crs_meant: Crs, path: str = "tile_01.las", **parts: Any) -> DeliveredFile:
    """Return a delivered file: good but for what is given.

    Args:
        crs_meant: the system of a good file.
        path: its path.
        parts: `header` and `reading` take changes of their fields, or None for none at all; `crs`
            takes a Crs, a CrsReading or None for no record; `run` is the run that made it.
    """
    changes = parts.pop("header", {})
    header = None if changes is None else make_header(**changes)
    facts = parts.pop("reading", {})
    crs = parts.pop("crs", crs_meant)
    run: Process | None = parts.pop("run", None)
    given: dict[str, Any] = {"bytes": header.file_size if header else 1}
    if header is not None:
        reading = crs if isinstance(crs, CrsReading) else make_crs_reading(crs)
        given |= {"header": header, "crs": reading}
        if facts is not None:
            given["reading"] = make_reading(header, **facts)
    if run is not None:
        line = (Line((run,)),)
        given["custody"] = Custody(CustodyState.ACCEPTED, MatchedBy.DIGEST, line)
    return make_file(path, **{**given, **parts})
