"""Rules of the LAS specification: a header that keeps all, and one fault for each rule.

Clauses by ASPRS LAS 1.4 R15 and 1.5 R00 and COPC 1.0, as each rule names them.
"""

from __future__ import annotations

import pytest
from made_las_faults import FAULTS, KEYS_ONLY, NONE, WAVES

from ledger.model.finding import Grade, Outcome
from ledger.testing.driver import drive_check, make_evidence, make_file
from lidar_checks.header.las_conformance import RULES, LasConformance


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


@pytest.mark.parametrize(
    "wrong",
    [
        {"crs": KEYS_ONLY},
        {"global_encoding": 1},
        {"crs": NONE, "global_encoding": 1},
        {"global_encoding": 17 | 128},
    ],
)
def test_a_file_of_las_15_is_held_against_las_15(delivered, wrong):
    """Bit 4 and the reserved bits stand in both documents, each with its own words."""
    findings = judge(delivered, {"version": "1.5", "header_size": 393, **wrong})
    (told,) = (finding for finding in findings if finding.outcome is Outcome.NONCONFORMING)
    assert told.criterion_source.startswith("ASPRS LAS 1.5 R00, global encoding")


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
