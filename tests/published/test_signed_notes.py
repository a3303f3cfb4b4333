"""Signed notes, signed tree heads and Ed25519 against published vectors.

Sources: C2SP signed-note (CC-BY-4.0), the example of its text; the signed roots of the test log of
transparency-dev/tessera (Apache-2.0); RFC 8032 section 7.1, tests 1 to 3.
Known: read; those of RFC 8032 recomputed.
"""

from __future__ import annotations

import base64
import hashlib
from pathlib import Path

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from ledger.merkle import compute_root, hash_leaf
from ledger.sealing.keys import is_signed_by
from ledger.sealing.note import Note, PublicKey, Signature, parse_note, parse_public_key
from ledger.sealing.treehead import parse_tree_head

HERE = Path(__file__).parent
EXAMPLE_KEY = "example.com/foo+530d903a+AekyeRrm56hApGFkyQR4ZCbV54Id2LKaANYcrnKv3U2k"
EXAMPLE_NOTE = (
    "This is an example message.\n"
    "\n"
    "\u2014 example.com/foo Uw2QOkn8srV1yJGh2VYRlL1Tnagv1YEq6TfXppzi2ONncAlTgK7Ztg1ERYNZXsYjOBH3"
    "mFXmRKuwHjG1Yu72IneyaQM=\n"
).encode()

RFC_8032 = [
    (
        "9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60",
        "d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a",
        "",
        (
            "e5564300c360ac729086e2cc806e828a84877f1eb8e5d974d873e065224901555fb8821590a33bacc61e3970"
            "1cf9b46bd25bf5f0595bbe24655141438e7a100b"
        ),
    ),
    (
        "4ccd089b28ff96da9db6c346ec114e0f5b8a319f35aba624da8cf6ed4fb8a6fb",
        "3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c",
        "72",
        (
            "92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da085ac1e43e15996e458f3613"
            "d0f11d8c387b2eaeb4302aeeb00d291612bb0c00"
        ),
    ),
    (
        "c5aa8df43f9f837bedb7442f31dcb7b166d38535076f094b85ce3a2e0b4458f7",
        "fc51cd8e6218a1a38da47ed00230f0580816ed13ba3303ac5deb911548908025",
        "af82",
        (
            "6291d657deec24024827e69c3abe01a30ce548a284743a445e3680d7db5ac3ac18ff9b538d16f290ae67f760"
            "984dc6594a7c15e9716ed28dc027beceea1ec40a"
        ),
    ),
]


def test_the_example_of_the_specification_is_read_and_verified() -> None:
    """The note and the key that the specification prints belong together, byte for byte."""
    key = parse_public_key(EXAMPLE_KEY)
    note = parse_note(EXAMPLE_NOTE)
    assert key.text == EXAMPLE_KEY
    assert note.to_text().encode() == EXAMPLE_NOTE
    assert is_signed_by(note, key) is True


def test_an_altered_text_is_not_verified() -> None:
    """One letter of the example is enough."""
    note = parse_note(EXAMPLE_NOTE.replace(b"example message", b"Example message"))
    assert is_signed_by(note, parse_public_key(EXAMPLE_KEY)) is False


@pytest.mark.parametrize("size", range(16))
def test_signed_roots_of_a_public_log(size: int) -> None:
    """Each signed root is read and verified, and is the root of the first entries of that log."""
    note = parse_note((HERE / f"tlog/checkpoint.{size}").read_bytes())
    key = parse_public_key((HERE / "tlog/log.vkey").read_text(encoding="utf-8"))
    head = parse_tree_head(note.text)
    assert is_signed_by(note, key) is True
    assert (head.origin, head.size) == (key.name, size)
    assert head.to_text() == note.text
    assert head.root == compute_root(hash_leaf(leaf) for leaf in read_entries()[:size])


def read_entries() -> list[bytes]:
    """Return the entries of the log: each behind its length, two bytes."""
    content = (HERE / "tlog/entries-000.p-15").read_bytes()
    found = []
    while content:
        length = int.from_bytes(content[:2], "big")
        found.append(content[2 : 2 + length])
        content = content[2 + length :]
    return found


@pytest.mark.parametrize(("secret", "public", "message", "signature"), RFC_8032)
def test_ed25519(secret: str, public: str, message: str, signature: str) -> None:
    """Signatures are those of the standard, and one byte more of the message breaks them."""
    private = Ed25519PrivateKey.from_private_bytes(bytes.fromhex(secret))
    assert private.sign(bytes.fromhex(message)).hex() == signature
    key = PublicKey("vector", bytes.fromhex(public))
    made = Signature("vector", key.id, bytes.fromhex(signature))
    text = bytes.fromhex(message).decode("latin-1")
    if text.isascii():
        assert is_signed_by(Note(text, (made,)), key) is True
        assert is_signed_by(Note(f"{text}x", (made,)), key) is False


def test_the_id_of_a_key_is_that_of_the_specification() -> None:
    """SHA-256 over name, line feed, type and key, four bytes: computed here by hand."""
    name, key_id, encoded = EXAMPLE_KEY.split("+")
    digest = hashlib.sha256(name.encode() + b"\n" + base64.b64decode(encoded)).hexdigest()
    assert digest[:8] == key_id
