"""Time stamps of RFC 3161: the request over a seal, and what a token says.

What is read here is what a token claims. Whether its signature is right is for `timecheck`.

Sources: RFC 3161 section 2.4, RFC 5652 sections 5.1 and 5.2, SHA-256 as of NIST CSOR
2.16.840.1.101.3.4.2.1.
"""

from __future__ import annotations

import re
from datetime import UTC, datetime

from ledger.dataclass import dataclass
from ledger.errors import MalformedFileError
from ledger.sealing import der
from ledger.sealing.der import Value, read_value, write_value

_SHA256_OID = "2.16.840.1.101.3.4.2.1"
_SHA256_DER = bytes.fromhex("0609608648016503040201")
_SIGNED_DATA = "1.2.840.113549.1.7.2"
_TOKEN_INFO = "1.2.840.113549.1.9.16.1.4"  # noqa: S105 - the name of a layout
_GRANTED = (0, 1)  # granted, granted with modifications
_TIME = re.compile(rb"(\d{14})(\.\d{1,6})?\d*Z")
_TRUE = b"\xff"


@dataclass(frozen=True)
class Token:
    """What a time stamp says.

    Args:
        imprint: SHA-256 that it was made over, 32 bytes.
        time: when, by the clock of whoever made it, UTC.
        policy: under which policy, an object identifier.
        serial: its number with whoever made it.
        token: the token by itself (a CMS ContentInfo), DER.
    """

    imprint: bytes
    time: datetime
    policy: str
    serial: int
    token: bytes

    @property
    def moment(self) -> str:
        """Return the time in RFC 3339, with the fractions of a second that it has."""
        return self.time.isoformat().replace("+00:00", "Z")


def make_request(digest: bytes) -> bytes:
    """Return a request for a time stamp over a SHA-256, DER.

    It asks for the certificate of whoever answers, and has no nonce: the same seal gives the same
    request, and an older answer over the same digest proves no less.
    """
    algorithm = write_value(der.SEQUENCE, _SHA256_DER, write_value(der.NULL))
    imprint = write_value(der.SEQUENCE, algorithm, write_value(der.OCTETS, digest))
    version, wants = write_value(der.INTEGER, b"\x01"), write_value(der.BOOLEAN, _TRUE)
    return write_value(der.SEQUENCE, version, imprint, wants)


def make_response(token: bytes) -> bytes:
    """Return a token as the answer that brought it, DER: granted, and nothing beside it."""
    status = write_value(der.SEQUENCE, write_value(der.INTEGER, b"\x00"))
    return write_value(der.SEQUENCE, status, token)


def parse_token(content: bytes) -> Token:
    """Read a time stamp: an answer (TimeStampResp), or the token in it by itself.

    Raises:
        MalformedFileError: it is none, it was refused, or it was made over another digest than a
            SHA-256.
    """
    try:
        return _parse(content)
    except (IndexError, ValueError, StopIteration) as error:
        raise MalformedFileError(
            "this is no time stamp of RFC 3161", remedy="name the answer as it came, in DER"
        ) from error


def _parse(content: bytes) -> Token:
    outer = read_value(content)
    token = _take_token(outer)
    signed = token.parts()[1].parts()[0].parts()
    wrapped = next(each for each in signed if each.tag == der.SEQUENCE).parts()
    if wrapped[0].oid != _TOKEN_INFO:
        raise MalformedFileError("this signed message is no time stamp", found=wrapped[0].oid)
    info = read_value(_expect(wrapped[1].parts()[0], der.OCTETS).content).parts()
    algorithm, imprint = info[2].parts()
    if algorithm.parts()[0].oid != _SHA256_OID:
        raise MalformedFileError(
            "the time stamp was made over another kind of digest",
            found=algorithm.parts()[0].oid,
            expected=f"SHA-256, {_SHA256_OID}",
        )
    return Token(
        imprint=_expect(imprint, der.OCTETS).content,
        time=_read_time(_expect(info[4], der.TIME).content),
        policy=_expect(info[1], der.OID).oid,
        serial=_expect(info[3], der.INTEGER).number,
        token=token.raw,
    )


def _take_token(outer: Value) -> Value:
    parts = _expect(outer, der.SEQUENCE).parts()
    if parts[0].tag == der.SEQUENCE:
        status = parts[0].parts()[0].number
        if status not in _GRANTED or len(parts) == 1:
            raise MalformedFileError(
                "the time stamp was not granted", found=f"status {status}", expected="status 0"
            )
        parts, outer = parts[1].parts(), parts[1]
    if parts[0].tag != der.OID or parts[0].oid != _SIGNED_DATA:
        raise MalformedFileError("this is no time stamp of RFC 3161")
    return outer


def _expect(value: Value, tag: int) -> Value:
    if value.tag != tag:
        raise MalformedFileError(
            "this is no time stamp of RFC 3161", found=f"tag {value.tag}", expected=f"tag {tag}"
        )
    return value


def _read_time(text: bytes) -> datetime:
    found = _TIME.fullmatch(text)
    if found is None:
        raise MalformedFileError("the time of the stamp cannot be read", found=repr(text[:40]))
    whole = datetime.strptime(found[1].decode(), "%Y%m%d%H%M%S").replace(tzinfo=UTC)
    parts = (found[2] or b".0").decode()[1:].ljust(6, "0")
    return whole.replace(microsecond=int(parts))
