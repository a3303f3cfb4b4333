"""Rules of the LAS specification: a header that keeps all, and one fault for each rule.

Clauses by ASPRS LAS 1.4 R15 and 1.5 R00 and COPC 1.0, as each rule names them.
"""

from __future__ import annotations

import pytest

from ledger.crs import describe
from ledger.model.finding import Grade, Outcome
from ledger.model.georeferencing import CrsReading, CrsRecord
from ledger.model.header import VlrFacts
from ledger.testing.driver import drive_check, make_evidence, make_file
from lidar_checks.header.las_conformance import RULES, LasConformance

ABSENT = CrsRecord(present=False)
KEYS = CrsRecord(present=True, crs=describe("EPSG:6346"))
WKT = CrsRecord(present=True, crs=describe("EPSG:6346+5703"))
NEW = CrsRecord(present=True, crs=describe(describe("EPSG:6346+5703").wkt))
KEYS_ONLY = CrsReading(ABSENT, KEYS, KEYS)
NONE = CrsReading(ABSENT, ABSENT, ABSENT)
BOTH = CrsReading(WKT, KEYS, WKT)
COPC = VlrFacts("copc", 1, 160)
TREE = VlrFacts("copc", 1000, 32, extended=True)
OLD = {"point_format": 3, "record_length": 34}
WAVES = {"point_format": 9, "record_length": 59, "vlrs": (VlrFacts("LASF_Spec", 100, 26),)}

# Rule, what is wrong in the header or the records, what is right again.
FAULTS = [
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
]


def judge(delivered, parts, *beside):
    """Return the findings about a header with some parts changed; `crs` is the CRS reading."""
    changes = {key: value for key, value in parts.items() if key != "crs"}
    given = {"crs": parts["crs"]} if "crs" in parts else {}
    file = delivered(header=changes, **given)
    return drive_check(LasConformance(), make_evidence(file, *beside))


def name_rules(findings):
    """Return the rules that findings name."""
    return {
        name
        for finding in findings
        for name in finding.catalogue
        if finding.grade is not None and name.startswith("LAS-")
    }


def test_a_good_header_keeps_all_rules(delivered):
    """The header of the other tests conforms, in one finding."""
    (finding,) = judge(delivered, {})
    assert finding.outcome is Outcome.CONFORMS


@pytest.mark.parametrize(("rule", "wrong", "right"), FAULTS)
def test_a_rule_is_broken_and_kept(delivered, rule, wrong, right):
    """Each rule finds its fault, and is silent just beside it."""
    findings = judge(delivered, wrong)
    assert rule in name_rules(findings)
    row = next(each for each in RULES if each.id == rule)
    (told,) = (finding for finding in findings if rule in finding.catalogue)
    assert told.grade is row.grade
    assert row.clause in told.criterion_source
    assert rule not in name_rules(judge(delivered, right))


def test_every_rule_has_a_planted_fault():
    """No rule of the tables is without a test; ids are unique, sources are named."""
    ids = [rule.id for rule in RULES]
    assert len(set(ids)) == len(ids)
    assert {rule for rule, _, _ in FAULTS} == set(ids)
    assert all(rule.clause and rule.remedy for rule in RULES)
    memory = [rule for rule in RULES if "memory" in rule.clause]
    assert all(rule.grade is Grade.OBSERVATION for rule in memory)


def test_waveforms_beside_the_file_are_looked_for(delivered):
    """Bit 2 names a file of the same name with the ending wdp."""
    beside = make_file("TILE_01.WDP", kind="document")
    parts = {**WAVES, "global_encoding": 21}
    assert "LAS-63" in name_rules(judge(delivered, parts))
    assert "LAS-63" not in name_rules(judge(delivered, parts, beside))


@pytest.mark.parametrize(
    ("name", "rules"),
    [
        ("las/1.2-with-color.copc.laz", {"LAS-02", "LAS-39"}),
        ("las/5points_14.las", {"LAS-39"}),
        ("las/append-bug.laz", {"LAS-15", "LAS-40"}),
        ("las/autzen-bmx-2023.las", {"LAS-39"}),
        ("las/autzen.copc.laz", {"LAS-39"}),
        ("las/file_with_both_wkt_and_geotiff_vlrs.las", {"LAS-15"}),
        ("las/fullwave.laz", {"LAS-40", "LAS-63"}),
        ("las/hexbin-crop.las", {"LAS-14"}),
        ("las/test1_4.las", {"LAS-02"}),
        ("las/test_epsg_4326_axis.las", {"LAS-05"}),
        ("las/test_utm16.las", {"LAS-05"}),
        ("las/unregistered_extra_bytes.las", {"LAS-05", "LAS-11", "LAS-53"}),
        ("las/wontcompress3.las", {"LAS-02"}),
        ("las-malformed/bad_vlr_count.las", {"LAS-05", "LAS-30"}),
        ("las/1_4_w_evlr.laz", set()),
        ("las/extrabytes.las", set()),
        ("las/lots_of_vlr.las", set()),
        ("las/plane.laz", set()),
        ("las/simple1_3.las", set()),
        ("las/1815.las", set()),
    ],
)
def test_real_files_break_the_rules_that_they_are_known_to_break(real, name, rules):
    """Files of other programs, named with the rules that each of them breaks."""
    assert name_rules(drive_check(LasConformance(), make_evidence(real(name)))) == rules
