"""Notes, tree heads and keys that are none."""

from __future__ import annotations

import base64
import os
from functools import partial
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ledger.errors import (
    MalformedFileError,
    UnreadableFileError,
    UnwritableFileError,
    UsageError,
)
from ledger.sealing.keys import (
    PRIVATE_NAME,
    PUBLIC_NAME,
    Moment,
    find_public_key,
    is_signed_by,
    make_key,
    sign,
)
from ledger.sealing.note import Note, PublicKey, Signature, parse_note, parse_public_key
from ledger.sealing.treehead import TreeHead, parse_tree_head

ROOT = bytes(range(32))


def type_in(text: str, moment: Moment) -> str:
    """Return a passphrase."""
    assert moment == "use"
    return text


def no_passphrase(moment: Moment) -> str:
    """Fail: nothing may be asked."""
    raise AssertionError(moment)


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"text\n",
        b"text\n\n",
        b"text\n\nno signature\n",
        "text\n\n\u2014 name\n".encode(),
        "text\n\n\u2014 name not+base64!\n".encode(),
        "text\n\n\u2014 name AAAA\n".encode(),  # nothing behind the id of the key
        "text\n\n\u2014 na+me AAAAAAAA\n".encode(),
        "text\n\n\u2014 name AAAAAAAA".encode(),  # the line does not end
        "te\x07xt\n\n\u2014 name AAAAAAAA\n".encode(),
        b"\xff\xfe",
        b"a" * 70_000,
    ],
)
def test_what_is_no_note_is_refused(content: bytes) -> None:
    """Each way to be no signed note is told in one line."""
    with pytest.raises(MalformedFileError) as caught:
        parse_note(content)
    assert "\n" not in str(caught.value)


def test_a_note_from_an_editor_of_windows_is_read() -> None:
    """CR LF and a byte order mark are what an editor adds; the signed text is without them."""
    plain = "text\nmore\n\n\u2014 name AAAAAAAA\n"
    saved = "\ufeff" + plain.replace("\n", "\r\n")
    assert parse_note(saved.encode()) == parse_note(plain.encode())


@pytest.mark.parametrize(
    "text",
    [
        "",
        "origin\n1\n",
        f"origin\n01\n{base64.b64encode(ROOT).decode()}\n",
        f"origin\n-1\n{base64.b64encode(ROOT).decode()}\n",
        f"origin\n{'9' * 5000}\n{base64.b64encode(ROOT).decode()}\n",
        f"\n1\n{base64.b64encode(ROOT).decode()}\n",
        f"origin\n1\n{base64.b64encode(ROOT[1:]).decode()}\n",
        "origin\n1\n!!!\n",
    ],
)
def test_what_is_no_tree_head_is_refused(text: str) -> None:
    """Three lines with a size and a root of 32 bytes, or it is no seal."""
    with pytest.raises(MalformedFileError):
        parse_tree_head(text)


@given(st.text(st.characters(codec="ascii", min_codepoint=33), min_size=1), st.integers(0, 10**15))
def test_a_tree_head_is_read_back(origin: str, size: int) -> None:
    """What is written for signing says the same when it is read."""
    head = TreeHead(origin, size, ROOT)
    assert parse_tree_head(head.to_text()) == head


@given(st.binary(max_size=300))
def test_any_bytes_end_in_a_note_or_a_refusal(content: bytes) -> None:
    """Whatever a file holds, there is no other error."""
    try:
        note = parse_note(content)
    except MalformedFileError:
        return
    assert isinstance(note, Note)


@pytest.mark.parametrize(
    "line", ["", "name", "name+00+AA", "na me+530d903a+AekyeRrm", "a+00000000+" + "A" * 44]
)
def test_what_is_no_public_key_is_refused(line: str) -> None:
    """A line that was cut or mistyped is no key."""
    with pytest.raises(MalformedFileError):
        parse_public_key(line)


def test_a_key_is_made_once_and_signs(tmp_path: Path) -> None:
    """The first key stays, its file is for its owner alone, and what it signs is verified."""
    assert find_public_key(tmp_path) is None
    key = make_key(tmp_path, "")
    assert find_public_key(tmp_path) == key
    if os.name != "nt":
        assert (tmp_path / PRIVATE_NAME).stat().st_mode & 0o777 == 0o600
    with pytest.raises(UnwritableFileError):
        make_key(tmp_path, "")
    assert find_public_key(tmp_path) == key
    note = sign(tmp_path, "text\n", no_passphrase)
    assert is_signed_by(parse_note(note.to_text().encode()), key) is True


def test_a_passphrase_locks_the_key(tmp_path: Path) -> None:
    """With the right one it signs; a wrong one, or none, is told."""
    key = make_key(tmp_path, "tide table")
    assert b"ENCRYPTED" in (tmp_path / PRIVATE_NAME).read_bytes()
    assert is_signed_by(sign(tmp_path, "a\n", lambda _: "tide table"), key) is True
    for wrong in ("tide", ""):
        with pytest.raises(UsageError, match="passphrase"):
            sign(tmp_path, "a\n", partial(type_in, wrong))


@pytest.mark.skipif(os.name == "nt", reason="Windows keeps no such mode")
def test_a_key_that_others_can_read_is_not_used(tmp_path: Path) -> None:
    """The line names the mode and how to mend it."""
    make_key(tmp_path, "")
    (tmp_path / PRIVATE_NAME).chmod(0o644)
    with pytest.raises(UnreadableFileError, match="chmod 600"):
        sign(tmp_path, "a\n", no_passphrase)


def test_two_halves_of_different_keys_are_refused(tmp_path: Path) -> None:
    """A public key from another backup would make seals that nobody can check."""
    make_key(tmp_path / "a", "")
    make_key(tmp_path / "b", "")
    (tmp_path / "a" / PUBLIC_NAME).write_bytes((tmp_path / "b" / PUBLIC_NAME).read_bytes())
    with pytest.raises(MalformedFileError, match="belong together"):
        sign(tmp_path / "a", "a\n", no_passphrase)


def test_a_file_that_is_no_key_is_told(tmp_path: Path) -> None:
    """Neither half has to be believed."""
    make_key(tmp_path, "")
    (tmp_path / PRIVATE_NAME).write_bytes(b"nothing of the kind")
    with pytest.raises(MalformedFileError, match="no private key"):
        sign(tmp_path, "a\n", no_passphrase)
    (tmp_path / PUBLIC_NAME).write_bytes(b"\xff\xff")
    with pytest.raises(UnreadableFileError):
        find_public_key(tmp_path)


def test_a_signature_of_another_key_is_none_of_ours() -> None:
    """Name or id of another key: nothing is said of that signature."""
    key = PublicKey("name", ROOT)
    other = Signature("name", b"\0\0\0\0", bytes(64))
    assert is_signed_by(Note("text\n", (other,)), key) is None
