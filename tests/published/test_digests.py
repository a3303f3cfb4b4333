"""SHA-256 against the example values of NIST for FIPS 180-4.

Source: NIST, examples of the secure hash standard (FIPS 180-4).
Known: recomputed.
"""

from __future__ import annotations

import pytest

from ledger import canonical

EXAMPLES = {
    b"": "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855",
    b"abc": "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad",
    b"abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq": (
        "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1"
    ),
    b"a" * 1_000_000: "cdc76e5c9914fb9281a1c7e284d73e67f1809a48a497200e046d39ccc7112cd0",
}


@pytest.mark.parametrize("message", EXAMPLES, ids=["empty", "3 bytes", "56 bytes", "a million"])
def test_example_digest(message):
    """The digest of a published message is the published digest."""
    assert canonical.compute_digest(message) == EXAMPLES[message]
