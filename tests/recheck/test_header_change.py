"""What of a header changed where the points did not: told by `recheck`, to the key."""

from __future__ import annotations

from pathlib import Path

import pytest
from job_bench import JobBench

from ledger.recheck.headerchange import compare_facts


def edit(path: Path, before: bytes, after: bytes) -> None:
    """Replace bytes of a file by as many others."""
    content = path.read_bytes()
    assert before in content
    assert len(before) == len(after)
    path.write_bytes(content.replace(before, after, 1))


@pytest.mark.parametrize(
    ("before", "after", "word"),
    [
        (b'"central_meridian",-69', b'"central_meridian",-75', "CRS text"),
        (b'PROJCS["NAD83 / UTM zone 19N', b'PROJCS["NAD83 / UTM zone 18N', "CRS text"),
        (b"TOWGS84[0,0,0,0,0,0,0]", b"TOWGS84[0,0,1,0,0,0,0]", "CRS text"),
    ],
)
def test_an_edited_coordinate_system_is_told_as_crs_text(
    bench: JobBench, open_file, before: bytes, after: bytes, word: str
) -> None:
    """Only the text of one file is edited: points unchanged, header changed: CRS text."""
    tile = bench.copy(open_file("las/wontcompress3.las"), "out/tile_03.las")
    assert bench.run("record", "out", "--set", "version=1").status == 0
    edit(tile, before, after)
    told = bench.ask("recheck", status=1)
    (file,) = told["files"]
    assert file["state"] == "points unchanged, header changed"
    assert file["sentence"].endswith(f"its points are unchanged, its header is not: {word}.")


def test_another_program_in_the_header_is_told_by_its_key(bench: JobBench, open_file) -> None:
    """Byte 58 is the generating software, 32 bytes (ASPRS LAS 1.4 R15, public header block)."""
    tile = bench.copy(open_file("las/1815.las"), "out/a.las")
    # Points finer than the lattice of the fingerprint: the header alone cannot be blamed.
    other = bench.copy(open_file("las/crop.las"), "out/b.las")
    assert bench.run("record", "out", "--together", "--set", "version=1").status == 0
    for path in (tile, other):
        content = bytearray(path.read_bytes())
        content[58:90] = b"another".ljust(32, b"\0")
        path.write_bytes(content)
    files = {file["path"]: file for file in bench.ask("recheck", status=1)["files"]}
    assert files["out/b.las"]["sentence"].endswith("its header is not: software.")
    assert files["out/a.las"]["state"] == "changed"


def test_what_the_book_did_not_keep_is_not_named() -> None:
    """An older book has no digest of the text; that alone is no change of it."""
    old = {"crs": "NAD83 / UTM zone 19N", "software": "a"}
    assert compare_facts(old, {**old, "crs_digest": "1"}) == ()
    assert compare_facts(old, {**old, "software": "b", "crs_digest": "1"}) == ("software",)
    assert compare_facts({}, {"crs": "x", "crs_digest": "1"}) == ("CRS text",)
