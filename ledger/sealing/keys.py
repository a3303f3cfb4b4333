"""The office's key: made once, kept in the user's own folder, never in a job.

The private key is a PKCS #8 file (RFC 5958) in PEM, readable by its owner alone, encrypted where a
passphrase is given. The only module that loads the library that signs.

Source: Ed25519, RFC 8032 section 5.1.
"""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path
from typing import Literal

from cryptography.exceptions import InvalidSignature, UnsupportedAlgorithm
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey, Ed25519PublicKey
from cryptography.hazmat.primitives.serialization import (
    BestAvailableEncryption,
    Encoding,
    NoEncryption,
    PrivateFormat,
    PublicFormat,
    load_pem_private_key,
)

from ledger.errors import MalformedFileError, UnreadableFileError, UnwritableFileError, UsageError
from ledger.sealing.note import Note, PublicKey, Signature, parse_public_key
from ledger.wholefile import write_whole

PRIVATE_NAME = "seal-key.pem"
PUBLIC_NAME = "seal-key.txt"

_NAME_DIGITS = 8
_OTHERS = 0o077  # bits of the mode that let anybody but the owner read, write or run

Moment = Literal["make", "use"]
AskPassphrase = Callable[[Moment], str]
"""Asks for the passphrase, to make a key or to use it. Empty text for none."""


def find_public_key(home: Path) -> PublicKey | None:
    """Return the office's public key; None when no key was made on this computer.

    Raises:
        MalformedFileError: the file holds none.
        UnreadableFileError: the system refused.
    """
    try:
        return parse_public_key((home / PUBLIC_NAME).read_text(encoding="utf-8"))
    except FileNotFoundError:
        return None
    except (OSError, UnicodeDecodeError) as error:
        raise UnreadableFileError(
            "the public key cannot be read", found=str(error), where=str(home / PUBLIC_NAME)
        ) from error


def make_key(home: Path, passphrase: str) -> PublicKey:
    """Make the office's key.

    Args:
        home: the user's own folder; made where it is not there.
        passphrase: what the private key is encrypted with; empty for no encryption.

    Raises:
        UnwritableFileError: nothing can be kept there, or there is a key already.
    """
    private = Ed25519PrivateKey.generate()
    kept = BestAvailableEncryption(passphrase.encode()) if passphrase else NoEncryption()
    content = private.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, kept)
    try:
        home.mkdir(parents=True, exist_ok=True)
        _write_new(home / PRIVATE_NAME, content)
    except OSError as error:
        raise UnwritableFileError(
            "the office's key cannot be kept",
            found=error.strerror or str(error),
            where=str(home / PRIVATE_NAME),
        ) from error
    return restore_public_key(home, lambda _: passphrase)


def has_private_key(home: Path) -> bool:
    """Say whether a private key lies in the user's own folder, whatever is in it."""
    return (home / PRIVATE_NAME).exists()


def restore_public_key(home: Path, ask: AskPassphrase) -> PublicKey:
    """Write the public half of the private key that is there.

    Args:
        home: the user's own folder.
        ask: asked for the passphrase of an encrypted key.

    Raises:
        UnreadableFileError: there is no private key, or others can read it.
        MalformedFileError: the file holds no such key.
        UsageError: the passphrase is wrong.
        UnwritableFileError: nothing can be kept there.
    """
    private = _read_private(home / PRIVATE_NAME, ask)
    raw = private.public_key().public_bytes(Encoding.Raw, PublicFormat.Raw)
    public = PublicKey(f"swathbook/key-{raw.hex()[:_NAME_DIGITS]}", raw)
    write_whole(home / PUBLIC_NAME, f"{public.text}\n".encode())
    return public


def _write_new(path: Path, content: bytes) -> None:
    """Write a file that only its owner can read; one that is there stays as it is."""
    handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    with os.fdopen(handle, "wb") as stream:
        stream.write(content)
        stream.flush()
        os.fsync(stream.fileno())


def sign(home: Path, text: str, ask: AskPassphrase) -> Note:
    """Return a note signed with the office's key.

    Args:
        home: the user's own folder.
        text: what is signed; ends with a line feed.
        ask: asked for the passphrase of an encrypted key.

    Raises:
        UnreadableFileError: there is no key, or others can read it.
        MalformedFileError: the file holds no such key.
        UsageError: the passphrase is wrong.
    """
    private = _read_private(home / PRIVATE_NAME, ask)
    raw = private.public_key().public_bytes(Encoding.Raw, PublicFormat.Raw)
    public = find_public_key(home)
    if public is None or public.key != raw:
        raise MalformedFileError(
            "the two halves of the office's key do not belong together",
            where=str(home / PUBLIC_NAME),
            remedy="fetch both files from the same backup",
        )
    return Note(text, (Signature(public.name, public.id, private.sign(text.encode())),))


def _read_private(path: Path, ask: AskPassphrase) -> Ed25519PrivateKey:
    try:
        content = path.read_bytes()
        mode = path.stat().st_mode
    except OSError as error:
        raise UnreadableFileError(
            "the office's private key cannot be read", found=error.strerror, where=str(path)
        ) from error
    if os.name != "nt" and mode & _OTHERS:  # Windows keeps a user's folder from others by itself
        raise UnreadableFileError(
            "others can read the office's private key",
            found=f"mode {mode & 0o777:o}",
            expected="600",
            where=str(path),
            remedy=f'chmod 600 "{path}"',
        )
    is_encrypted = b"ENCRYPTED" in content.split(b"\n", 1)[0]
    try:
        password = ask("use").encode() if is_encrypted else None
        key = load_pem_private_key(content, password)
    except (ValueError, TypeError, UnsupportedAlgorithm) as error:
        if is_encrypted and not password:
            raise UsageError(
                "the office's key is locked, and no passphrase was given",
                remedy="type it at a terminal, or set SWATHBOOK_SEAL_PASSPHRASE",
            ) from error
        if is_encrypted:
            raise UsageError("the passphrase of the office's key is wrong") from error
        raise MalformedFileError(
            "this is no private key",
            where=str(path),
            remedy="fetch it from a backup; without one, move it away, and a new key is made",
        ) from error
    if not isinstance(key, Ed25519PrivateKey):
        raise MalformedFileError(
            "the private key is of another kind", expected="Ed25519", where=str(path)
        )
    return key


def is_signed_by(note: Note, public: PublicKey) -> bool | None:
    """Say whether a note carries a right signature of a key; None where it carries none of it."""
    mine = [s for s in note.signatures if (s.name, s.key_id) == (public.name, public.id)]
    if not mine:
        return None
    return all(_is_right(public, note.text.encode(), each.value) for each in mine)


def _is_right(public: PublicKey, text: bytes, signature: bytes) -> bool:
    try:
        Ed25519PublicKey.from_public_bytes(public.key).verify(signature, text)
    except InvalidSignature:
        return False
    return True
