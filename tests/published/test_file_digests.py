"""SHA-256 of files against the example values of NIST for FIPS 180-4.

Source: NIST, examples of the secure hash standard (FIPS 180-4).
Known: recomputed.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from ledger.fixity import read_fixity

EXAMPLES = {
    "empty": (b"", "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"),
    "abc": (b"abc", "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"),
    "112 bytes": (
        (
            b"abcdefghbcdefghicdefghijdefghijkefghijklfghijklmghijklmn"
            b"hijklmnoijklmnopjklmnopqklmnopqrlmnopqrsmnopqrstnopqrstu"
        ),
        "cf5b16a778af8380036ce59e7b0492370b249b11e8f07a51afac45037afee9d1",
    ),
    "a million": (
        b"a" * 1_000_000,
        "cdc76e5c9914fb9281a1c7e284d73e67f1809a48a497200e046d39ccc7112cd0",
    ),
}


@pytest.mark.parametrize("name", EXAMPLES)
def test_published_digest_of_a_file(tmp_path: Path, name: str) -> None:
    """A file that holds a published message has the published digest."""
    message, digest = EXAMPLES[name]
    path = tmp_path / "message"
    path.write_bytes(message)
    assert read_fixity(path).sha256 == digest
