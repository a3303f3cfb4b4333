"""Each rule of the LAS specification with a header that breaks it and one that keeps it."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from ledger.crs import describe
from ledger.model.copc import CopcInfo
from ledger.model.georeferencing import CrsReading, CrsRecord
from ledger.model.header import VlrFacts

ABSENT = CrsRecord(present=False)
KEYS = CrsRecord(present=True, crs=describe("EPSG:6346"))
WKT = CrsRecord(present=True, crs=describe("EPSG:6346+5703"))
NEW = CrsRecord(present=True, crs=describe(describe("EPSG:6346+5703").wkt))
KEYS_ONLY = CrsReading(ABSENT, KEYS, KEYS)
NONE = CrsReading(ABSENT, ABSENT, ABSENT)
BOTH = CrsReading(WKT, KEYS, WKT)
COPC = VlrFacts("copc", 1, 160)
TREE = VlrFacts("copc", 1000, 32, extended=True)
OLD: dict[str, Any] = {"point_format": 3, "record_length": 34}
WAVES: dict[str, Any] = {
    "point_format": 9,
    "record_length": 59,
    "vlrs": (VlrFacts("LASF_Spec", 100, 26),),
}

# The smallest cube round the box of the header that the tests share.
OCTREE = CopcInfo(
    (552_040.0, 4_272_040.0, 220.0), 40.0, 1.0, 30_000, 32, (0.0, 1.0), ((29_968, 30_064),)
)


def make_octree(**changes: Any) -> dict[str, Any]:
    """Return a header of COPC whose octree is sound but for the changes."""
    info = replace(OCTREE, **changes)
    return {"vlrs": (COPC, TREE), "copc": True, "compressed": True, "copc_info": info}


# Rule, what is wrong in the header or the records, what is right again.
FAULTS: list[tuple[str, dict[str, Any], dict[str, Any]]] = [
    ("LAS-01", {**OLD, "legacy_count": 999}, {**OLD, "legacy_count": 1000}),
    ("LAS-02", {"legacy_count": 1000}, {**OLD, "legacy_count": 1000}),
    ("LAS-03", {"legacy_by_return": (1000, 0, 0, 0, 0)}, {}),
    ("LAS-04", {"by_return": (1000, 1, *(0,) * 13)}, {"by_return": (999, 1, *(0,) * 13)}),
    ("LAS-05", {"by_return": (998, 1, *(0,) * 13)}, {"by_return": (999, 1, *(0,) * 13)}),
    ("LAS-10", {"crs": KEYS_ONLY}, {"crs": KEYS_ONLY, **OLD, "global_encoding": 1}),
    ("LAS-10", {"global_encoding": 1}, {"global_encoding": 17}),
    ("LAS-11", {"crs": NONE, "global_encoding": 1}, {"crs": NONE, "global_encoding": 17}),
    ("LAS-12", {"crs": KEYS_ONLY, **OLD}, {"crs": KEYS_ONLY, **OLD, "global_encoding": 1}),
    ("LAS-13", {**OLD, "global_encoding": 1}, {**OLD, "global_encoding": 17}),
    ("LAS-14", {**OLD, "version": "1.2", "global_encoding": 1}, {**OLD}),
    ("LAS-15", {"crs": BOTH}, {}),
    ("LAS-16", {"vlrs": (VlrFacts("LASF_Projection", 2112, 9),) * 2}, {}),
    ("LAS-17", {"other_wkts": ("another",)}, {}),
    ("LAS-18", {"global_encoding": 17 | 32}, {"global_encoding": 31}),
    ("LAS-19", {**OLD, "version": "1.2", "global_encoding": 17}, {**OLD}),
    (
        "LAS-20",
        {"version": "1.5", "global_encoding": 16 | 64},
        {"version": "1.5", "global_encoding": 17 | 64},
    ),
    ("LAS-21", {**OLD, "version": "1.5", "global_encoding": 1}, {"version": "1.5"}),
    ("LAS-30", {"vlr_count": 1}, {"vlr_count": 1, "vlrs": (VlrFacts("me", 1, 5),)}),
    ("LAS-31", {"evlr_count": 1, "evlr_start": 31_000}, {}),
    (
        "LAS-32",
        {"evlr_count": 1, "evlr_start": 30_999, "vlrs": (VlrFacts("me", 1, 5, extended=True),)},
        {"evlr_count": 1, "evlr_start": 31_000, "vlrs": (VlrFacts("me", 1, 5, extended=True),)},
    ),
    ("LAS-33", {"evlr_start": 31_000}, {}),
    (
        "LAS-34",
        {"vlrs": (VlrFacts("LASF_Spec", 0, 4095),)},
        {"vlrs": (VlrFacts("LASF_Spec", 0, 4096),)},
    ),
    (
        "LAS-34",
        {"vlrs": (VlrFacts("LASF_Projection", 34735, 30),)},
        {"vlrs": (VlrFacts("LASF_Projection", 34735, 32),)},
    ),
    (
        "LAS-35",
        {"vlrs": (VlrFacts("LASF_Spec", 4, 191),)},
        {"vlrs": (VlrFacts("LASF_Spec", 4, 192),)},
    ),
    (
        "LAS-36",
        {"vlrs": (VlrFacts("LASF_Projection", 34737, 9),)},
        {"vlrs": tuple(VlrFacts("LASF_Projection", each, 32) for each in (34735, 34737))},
    ),
    ("LAS-37", {"vlrs": (VlrFacts("", 1, 5),)}, {"vlrs": (VlrFacts("me", 1, 5),)}),
    ("LAS-37", {"vlrs": (VlrFacts("lasf_projection", 2112, 5),)}, {}),
    ("LAS-38", {"vlrs": (VlrFacts("LASF_Spec", 99, 26),)}, {}),
    ("LAS-39", {"wkt_terminated": False}, {}),
    ("LAS-40", {"crs": CrsReading(NEW, ABSENT, NEW)}, {"version": "1.5"}),
    ("LAS-41", {"version": "1.5", "vlrs": (VlrFacts("LASF_Spec", 4, 192),) * 2}, {}),
    ("LAS-42", {"version": "1.5", "vlrs": (VlrFacts("LASF_Spec", 0, 4096),)}, {}),
    ("LAS-43", {"version": "1.5", "crs": BOTH}, {"version": "1.5"}),
    ("LAS-50", {"header_size": 376}, {"header_size": 375}),
    ("LAS-51", {**OLD, "version": "1.5"}, {"version": "1.5"}),
    ("LAS-52", {"point_format": 4, "record_length": 57, "version": "1.2"}, {**OLD}),
    ("LAS-53", {"record_length": 32}, {"record_length": 32, "described_bytes": 2}),
    (
        "LAS-54",
        {"record_length": 32, "described_bytes": 3},
        {"record_length": 32, "described_bytes": 2},
    ),
    (
        "LAS-55",
        {"version": "1.5", "time_range": (2.0, 1.0)},
        {"version": "1.5", "time_range": (1.0, 2.0)},
    ),
    (
        "LAS-56",
        {"vlrs": (VlrFacts("laszip encoded", 22204, 40),)},
        {"vlrs": (VlrFacts("laszip encoded", 22204, 40),), "compressed": True},
    ),
    ("LAS-60", {**WAVES, "vlrs": (), "global_encoding": 21}, {}),
    ("LAS-61", {**WAVES}, {**WAVES, "global_encoding": 19, "waveform_start": 2000}),
    ("LAS-62", {**WAVES, "global_encoding": 23}, {}),
    ("LAS-63", {**WAVES, "global_encoding": 21}, {}),
    ("LAS-64", {**WAVES, "global_encoding": 19, "waveform_start": 31_000}, {}),
    ("LAS-65", {"global_encoding": 19}, {}),
    (
        "LAS-70",
        {"vlrs": (VlrFacts("me", 1, 5), COPC, TREE), "compressed": True},
        {"vlrs": (COPC, TREE), "copc": True, "compressed": True},
    ),
    ("LAS-71", {"vlrs": (COPC, TREE), "copc": True}, {}),
    ("LAS-72", {"vlrs": (COPC,), "copc": True, "compressed": True}, {}),
    ("LAS-73", make_octree(root_start=29_000), make_octree()),
    ("LAS-73", make_octree(root_size=33), make_octree()),
    ("LAS-73", make_octree(root_size=96), make_octree(root_size=64)),
    ("LAS-74", make_octree(spacing=0.0), make_octree()),
    ("LAS-74", make_octree(spacing=float("nan")), make_octree()),
    ("LAS-74", make_octree(half_side=-1.0), make_octree()),
    ("LAS-74", make_octree(half_side=39.0), make_octree(half_side=40.0)),
    ("LAS-75", make_octree(time_range=(2.0, 1.0)), make_octree(time_range=(1.0, 1.0))),
]
