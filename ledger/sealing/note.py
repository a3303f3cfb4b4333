"""Signed notes: text, an empty line, and one line for each signature.

Bytes in, bytes out: nothing here signs or verifies. Source: C2SP signed-note, type 0x01 (Ed25519).
"""

from __future__ import annotations

import base64
import binascii
import hashlib
import re

from ledger.dataclass import dataclass
from ledger.errors import MalformedFileError
from ledger.model.phrases import count_things

ED25519 = b"\x01"
_KEY_SIZE = 32
_SIGNATURE_SIZE = 64
_ID_SIZE = 4
_DASH = "\u2014 "
_LARGEST = 64 * 1024  # a seal has a few hundred bytes
_NAME = re.compile(r"[^\s+]+")


@dataclass(frozen=True)
class PublicKey:
    """What a signature is verified with.

    Args:
        name: name of the key, without blanks and plus signs.
        key: 32 bytes of an Ed25519 public key.
    """

    name: str
    key: bytes

    @property
    def id(self) -> bytes:
        """Return the four bytes by which a signature says which key made it."""
        named = self.name.encode() + b"\n" + ED25519 + self.key
        return hashlib.sha256(named).digest()[:_ID_SIZE]

    @property
    def text(self) -> str:
        """Return the line in which the key is handed on: name, id and key."""
        encoded = base64.b64encode(ED25519 + self.key).decode()
        return f"{self.name}+{self.id.hex()}+{encoded}"


@dataclass(frozen=True)
class Signature:
    """One signature below a note.

    Args:
        name: name of the key that made it.
        key_id: four bytes, see `PublicKey.id`.
        value: what was signed with, 64 bytes for Ed25519.
    """

    name: str
    key_id: bytes
    value: bytes


@dataclass(frozen=True)
class Note:
    """A text with signatures.

    Args:
        text: what is signed; ends with a line feed.
        signatures: in the order of their lines.
    """

    text: str
    signatures: tuple[Signature, ...]

    def to_text(self) -> str:
        """Return the note as it is kept in a file."""
        lines = (
            f"{_DASH}{each.name} {base64.b64encode(each.key_id + each.value).decode()}\n"
            for each in self.signatures
        )
        return f"{self.text}\n{''.join(lines)}"


def parse_public_key(line: str) -> PublicKey:
    """Read the line in which a public key is handed on.

    Raises:
        MalformedFileError: it is none, or its parts do not fit each other.
    """
    # Standard base64 holds plus signs itself: only the first two part the fields.
    name, _, rest = line.strip().partition("+")
    key_id, _, encoded = rest.partition("+")
    content = _decode(encoded)
    if not _NAME.fullmatch(name) or content[:1] != ED25519 or len(content) != 1 + _KEY_SIZE:
        raise MalformedFileError(
            "this is no public key of a seal",
            found=line.strip()[:80] or "nothing",
            expected="NAME+ID+KEY on one line, an Ed25519 key",
        )
    key = PublicKey(name, content[1:])
    if key.id.hex() != key_id.lower():
        raise MalformedFileError(
            "the id of a public key does not fit it",
            found=key_id[:16],
            expected=key.id.hex(),
            remedy="copy the whole line again",
        )
    return key


def parse_note(content: bytes) -> Note:
    """Read a signed note.

    Raises:
        MalformedFileError: it is none.
    """
    text, mark, below = _decode_text(content).rpartition("\n\n")
    lines = below.split("\n")
    if not mark or len(lines) < 2 or lines.pop():
        raise _make_fault("no signature below an empty line")
    return Note(f"{text}\n", tuple(_parse_signature(line) for line in lines))


def _decode_text(content: bytes) -> str:
    if len(content) > _LARGEST:
        raise _make_fault(count_things(len(content), "byte"))
    try:
        text = content.decode("utf-8")
    except UnicodeDecodeError as error:
        raise _make_fault("bytes that are no UTF-8 text") from error
    # Some editors end lines with CR LF or put a mark first; nothing else is forgiven.
    text = text.removeprefix("\ufeff").replace("\r\n", "\n")
    if any(sign < " " and sign != "\n" for sign in text):
        raise _make_fault("control characters")
    return text


def _parse_signature(line: str) -> Signature:
    name, _, encoded = line.removeprefix(_DASH).partition(" ")
    content = _decode(encoded)
    if not line.startswith(_DASH) or not _NAME.fullmatch(name) or len(content) <= _ID_SIZE:
        raise _make_fault(f"“{line[:40]}” where a signature should stand")
    return Signature(name, content[:_ID_SIZE], content[_ID_SIZE:])


def _decode(encoded: str) -> bytes:
    try:
        return base64.b64decode(encoded, validate=True)
    except (binascii.Error, ValueError):
        return b""


def _make_fault(found: str) -> MalformedFileError:
    return MalformedFileError(
        "this is no signed note", found=found, expected="text, an empty line, signatures"
    )
