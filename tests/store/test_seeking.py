"""Questions that begin with some digits, a path, a folder or a name."""

from __future__ import annotations

from ledger.model.entry import Draft
from ledger.model.known import KnownValue


def test_digests_are_found_by_their_first_digits(story_writer, samples):
    """Some digits lead to every recorded digest that begins with them, and to no other."""
    digest = samples["digest"]("out/R2/a.laz")
    assert story_writer.digests(digest[:8]) == (digest,)
    assert story_writer.digests(digest) == (digest,)
    assert len(story_writer.digests("")) == len(set(story_writer.digests(""))) > 5
    assert story_writer.digests("0" * 20) == ()


def test_the_latest_record_of_a_path_is_found(story_writer):
    """The answer is the one that the list of all paths gives."""
    last = {record.path: record for record in story_writer.files_last_seen()}
    assert len(last) > 5
    for path, record in last.items():
        assert story_writer.file_at(path) == record
    assert story_writer.file_at("out/R2") is None


def test_what_lies_below_a_folder_names_its_owners(story_writer):
    """A folder leads to flight, run or deliverable; its name's beginning is another folder."""
    assert [(owner.relation, owner.id) for owner in story_writer.owners_below("out/R1")] == [
        ("output", "R1")
    ]
    assert {owner.id for owner in story_writer.owners_below("raw")} >= {"F1"}
    assert story_writer.owners_below("out/R") == ()


def test_a_file_is_found_by_its_name_alone(story_writer):
    """A bare name leads to the paths that end in it, not to names that only end alike."""
    assert story_writer.paths_named("a.laz") == ("out/R1/a.laz", "out/R2/a.laz")
    assert story_writer.paths_named(".laz") == ()
    assert story_writer.paths_named("scan.bin") == ("/mnt/card/scan.bin", "raw/F1/scan.bin")


def test_records_that_name_a_file_are_found(story_writer):
    """A value leads to the records that hold exactly it, whatever JSON makes of its signs."""
    odd = 'geoid/"A\\ 1".tif'
    for text in (odd, odd + "x"):
        values = {"flight.note": KnownValue(text).to_values()}
        story_writer.append(Draft("flight", {"name": "", "values": values}), id_prefix="F")
    assert story_writer.namers(odd) == (("F2", "flight.note"),)
    assert story_writer.namers("never") == ()


def test_files_with_the_same_points_are_found(story_writer, samples):
    """A fingerprint leads to the digests that hold it, made or audited, at its full level."""
    digest = samples["digest"]("out/R2/a.laz")
    assert story_writer.same_points(samples["fingerprint"]("b")) == (digest,)
    assert story_writer.same_points(samples["fingerprint"]("never")) == ()
