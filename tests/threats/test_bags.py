"""A bag holds the delivery and nothing else, and unpacks into itself on every system."""

from __future__ import annotations

from pathlib import Path, PurePosixPath, PureWindowsPath

import bagit
import pytest
from job_bench import JobBench, Ran

from ledger.handover import bag as bag_module

WORDS = ("--to", "client engineer", "--use", "tests", "--despite", "as agreed", "--bag")
# What a program that unpacks a bag might take for a way out of it, on one system or another.
NAMES = (
    "..\\..\\evil.txt",
    "C:\\evil.txt",
    "\\\\server\\share\\evil.txt",
    "~root",
    "%2e%2e%2fevil.txt",
    "a\n../../evil.txt",
    "..%0A../evil.txt",
    "a%0d..",
)


def hand_over(bench: JobBench) -> Ran:
    """Record, audit and hand over the delivery with a bag."""
    assert bench.run("record", "deliver").status in (0, 1)
    assert bench.run("audit", "deliver").status in (0, 1, 3)
    return bench.run("handover", "deliver", *WORDS)


def find_bag(bench: JobBench) -> Path | None:
    """Return the bag of the handover; None where there is none."""
    bags = list((bench.job / "handover").glob("*/bag"))
    return bags[0] if bags else None


def is_inside(path: str) -> bool:
    """Say whether a name of a payload stays in its bag, read by any system."""
    for kind in (PurePosixPath, PureWindowsPath):
        read = kind(path)
        if read.is_absolute() or read.anchor or ".." in read.parts:
            return False
    return path.startswith("data/")


@pytest.mark.parametrize("name", NAMES)
def test_no_name_in_a_bag_leads_out_of_it(bench: JobBench, name: str) -> None:
    """Whatever a delivered file is called: it goes out under a name that stays inside, or not."""
    bench.write("deliver/good.csv", b"1,2\n")
    place = bench.job / "deliver" / name
    place.parent.mkdir(parents=True, exist_ok=True)
    place.write_bytes(b"evil")
    ran = hand_over(bench)
    found = find_bag(bench)
    if ran.status == 0:
        assert found is not None
        bag = bagit.Bag(str(found))
        bag.validate()
        entries = bag.payload_entries()
        assert "data/delivery/good.csv" in entries
        assert [path for path in entries if not is_inside(path)] == []
    else:
        assert (ran.status, found, len(ran.lines)) == (2, None, 1), ran.err
        assert "a bag cannot hold a file of this name" in ran.err
        assert not (bench.job / "handover").exists()


def test_what_a_link_leads_to_is_in_no_bag(bench: JobBench) -> None:
    """A link to a file outside is left out by name; its bytes go nowhere."""
    secret = bench.base / "secret.txt"
    secret.write_bytes(b"of another client")
    bench.write("deliver/good.csv", b"1,2\n")
    (bench.job / "deliver" / "link.txt").symlink_to(secret)
    hand_over(bench)
    inside = [path for path in (bench.job / "handover").rglob("*") if path.is_file()]
    assert [path for path in inside if b"of another client" in path.read_bytes()] == []
    assert [path for path in inside if path.is_symlink()] == []


def test_a_file_that_was_exchanged_after_its_digest_was_taken_is_in_no_bag(
    bench: JobBench, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Between hashing and copying it became a link: the copy does not fit, and no bag is left."""
    secret = bench.base / "secret.txt"
    secret.write_bytes(b"of another client")
    tile = bench.write("deliver/good.csv", b"1,2\n")

    def exchange(*given: object) -> None:
        tile.unlink()
        tile.symlink_to(secret)

    monkeypatch.setattr(bag_module, "_require_room", exchange)
    ran = hand_over(bench)
    assert (ran.status, len(ran.lines)) == (2, 1), ran.err
    assert "not what was handed over" in ran.err
    assert find_bag(bench) is None
