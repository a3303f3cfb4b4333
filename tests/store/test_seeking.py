"""Questions that begin with some digits, a path, a folder or a name."""

from __future__ import annotations

from ledger.canonical import compute_digest, encode
from ledger.model.entry import Draft
from ledger.model.known import KnownValue
from ledger.store.mapping import fingerprint_to_values


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


def test_what_used_or_held_a_file_follows_it(story_writer, samples):
    """An output leads to the step that used it; bytes that an audit held to the deliverable."""
    digest = samples["digest"]("out/R2/a.laz")
    (step,) = story_writer.followers(digest)
    assert (step.relation, step.owner, step.sha256, step.of) == ("input", "S1", digest, digest)
    assert story_writer.followers_of_outputs("R2") == (step,)
    assert [each.relation for each in story_writer.followers_of_outputs("S1")] == ["audited"]
    assert story_writer.followers("0" * 64) == ()
    assert story_writer.followers_of_outputs("R9") == ()


def test_a_file_with_the_same_points_follows_too(story_writer, samples):
    """An audited file with other bytes and all the points of an output is its follower."""
    twin = {"path": "twin.laz", "sha256": samples["digest"]("twin"), "bytes": 7}
    manifest = encode([twin])
    prints = encode({twin["sha256"]: fingerprint_to_values(samples["fingerprint"]("b"))})
    values = {"id": "D9", "folder": "x", "manifest": compute_digest(manifest)}
    story_writer.append(
        Draft("audit", {**values, "fingerprints": compute_digest(prints)}), (manifest, prints)
    )
    found = story_writer.followers_of_outputs("R2")
    assert ("audited", "D9", samples["digest"]("out/R2/a.laz")) in {
        (each.relation, each.owner, each.of) for each in found
    }


def test_a_registration_is_told_with_its_entry(story_writer):
    """The files of a flight come with the entry that registered them."""
    uses = story_writer.registrations("F1")
    assert [use.file for use in uses] == list(story_writer.files_of_flight("F1"))
    assert {use.entry for use in uses} == {5}
