"""The manifest that goes with a folder, read by other programs."""

from __future__ import annotations

import subprocess

from sent_folders import enter_audit, send

from ledger.canonical import compute_digest
from ledger.handover.manifest import write_manifest
from ledger.handover.package import Listed
from ledger.testing.books import BookBuilder


def test_what_a_standard_program_says_of_the_manifest(book: BookBuilder) -> None:
    """GNU sha256sum verifies it, odd names too, and finds a changed byte."""
    for name in ("größe, 1.txt", "a\\b.txt", "two\nlines.txt"):
        (book.folder / "deliver" / name).write_text(name, encoding="utf-8")
    enter_audit(book)
    send(book)
    words = ["sha256sum", "--check", "--strict", "../handover/1/manifest-sha256.txt"]
    folder = book.folder / "deliver"
    ran = subprocess.run(words, cwd=folder, capture_output=True, text=True, check=False)
    assert (ran.returncode, ran.stdout.count("OK")) == (0, 6), ran.stderr
    (folder / "tile_1.las").write_text("tile x", encoding="utf-8")
    ran = subprocess.run(words, cwd=folder, capture_output=True, text=True, check=False)
    assert ran.returncode == 1
    # Whatever the language calls what failed, what fits is OK.
    failed = [line for line in ran.stdout.splitlines() if not line.endswith(": OK")]
    assert [line.partition(":")[0] for line in failed] == ["tile_1.las"]


def test_a_line_of_the_manifest_has_the_published_digest() -> None:
    """SHA-256 of nothing, as FIPS 180-4 gives it: recomputed; two blanks before the name."""
    digest = compute_digest(b"")
    assert write_manifest([Listed("a b.txt", digest, 0)]) == (
        b"e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855  a b.txt\n"
    )
