"""Time stamps of RFC 3161, held against what `openssl ts` wrote and reads."""

from __future__ import annotations

import hashlib
from datetime import UTC, datetime
from pathlib import Path

import pytest
from rfc3161_client import decode_timestamp_response

from ledger.errors import MalformedFileError
from ledger.sealing.der import read_value, write_value
from ledger.sealing.timecheck import find_fault
from ledger.sealing.timestamp import make_request, make_response, parse_token

FOLDER = Path(__file__).parent / "vectors"
ABC = hashlib.sha256(b"abc").digest()


def read(name: str) -> bytes:
    """Return a file of the vectors."""
    return (FOLDER / name).read_bytes()


def test_a_request_has_the_bytes_of_openssl() -> None:
    """SHA-256, certificate wanted, no nonce."""
    assert make_request(ABC) == read("abc.tsq")


@pytest.mark.parametrize("name", ["abc.tsr", "abc.token"])
def test_a_token_is_read_with_and_without_its_answer(name: str) -> None:
    """What it says is what `openssl ts -reply -text` prints; the token is the same bytes."""
    token = parse_token(read(name))
    assert token.imprint == ABC
    assert token.time == datetime(2026, 11, 27, 0, 51, 26, tzinfo=UTC)
    assert token.moment == "2026-11-27T00:51:26Z"
    assert (token.serial, token.policy) == (2, "1.3.6.1.4.1.99999.1")
    assert token.token == read("abc.token")


def test_the_library_reads_the_same() -> None:
    """Imprint, time, policy and serial of both readers are equal."""
    token = parse_token(read("abc.tsr"))
    info = decode_timestamp_response(make_response(token.token)).tst_info
    assert info.message_imprint.message == token.imprint
    assert info.gen_time.replace(tzinfo=UTC) == token.time
    assert (info.policy.dotted_string, info.serial_number) == (token.policy, token.serial)


def test_the_authority_that_signed_vouches_for_it() -> None:
    """Another one does not, and a certificate that is none is refused."""
    token = parse_token(read("abc.tsr"))
    assert find_fault(token, read("authority.pem")) == ""
    assert (
        find_fault(token, read("other-authority.pem")) == "unable to get local issuer certificate"
    )
    with pytest.raises(MalformedFileError, match="no certificates"):
        find_fault(token, b"none")


def test_a_time_that_was_altered_is_not_vouched_for() -> None:
    """One digit of the year put forward: it is read, and the signature does not fit."""
    altered = read("abc.tsr").replace(b"20261127005126Z", b"20251127005126Z")
    token = parse_token(altered)
    assert token.moment.startswith("2025")
    assert find_fault(token, read("authority.pem")) != ""


def test_every_cut_and_every_flip_ends_in_one_line_or_in_a_token() -> None:
    """No other error escapes, whatever the bytes."""
    content = read("abc.tsr")
    for place in range(len(content)):
        with pytest.raises(MalformedFileError):
            parse_token(content[:place])
        flipped = content[:place] + bytes([content[place] ^ 0x81]) + content[place + 1 :]
        try:
            parse_token(flipped)
        except MalformedFileError:
            continue


def test_a_stamp_over_another_digest_is_refused() -> None:
    """SHA-512 is a good digest, and not the one that was asked for."""
    with pytest.raises(MalformedFileError, match="another kind of digest"):
        parse_token(read("abc-sha512.tsr"))


def test_a_refusal_is_no_stamp() -> None:
    """Status 2, rejection, of RFC 3161 section 2.4.2."""
    status = write_value(0x30, write_value(0x02, b"\x02"))
    with pytest.raises(MalformedFileError, match="not granted"):
        parse_token(write_value(0x30, status))


@pytest.mark.parametrize("size", [0, 127, 128, 255, 256, 70_000])
def test_lengths_are_written_as_short_as_they_can_be(size: int) -> None:
    """X.690 section 10.1, on both sides of each step."""
    content = b"x" * size
    value = write_value(0x04, content)
    assert read_value(value).content == content
    assert len(value) - size == (2 if size < 128 else 3 if size < 256 else 4 if size < 65536 else 5)
