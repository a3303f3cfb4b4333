"""Is the signature of a time stamp right, as far as a named authority vouches for it?

The only module that loads the library for time stamps, which comes with the extra `timestamp`.

Sources: RFC 3161 sections 2.3 and 2.4.2, RFC 5652 section 5.4.
"""

from __future__ import annotations

import re

from cryptography.x509 import load_der_x509_certificate, load_pem_x509_certificates
from rfc3161_client import VerificationError, VerifierBuilder, decode_timestamp_response

from ledger.errors import MalformedFileError
from ledger.sealing.timestamp import Token, make_response

_PEM = b"-----BEGIN"
# The library hands on a stack of numbered faults; this is the part that a person reads.
_REASON = re.compile(r"Verify error: ?([^\"]+)\"")
_LONGEST = 120


def find_fault(token: Token, authority: bytes) -> str:
    """Return why a token is not vouched for by an authority; empty where it is.

    Looked at: the signature over the token, the chain from its signer to the certificates given,
    each valid at the time of the stamp, and that the signer's certificate is one for time stamps.
    Not looked at: whether a certificate was revoked.

    Args:
        token: the token.
        authority: certificates that the user trusts, PEM (several) or DER (one).

    Raises:
        MalformedFileError: these are no certificates.
    """
    try:
        roots = (
            load_pem_x509_certificates(authority)
            if _PEM in authority
            else [load_der_x509_certificate(authority)]
        )
    except ValueError as error:
        raise MalformedFileError("these are no certificates", found=str(error)) from error
    try:
        answer = decode_timestamp_response(make_response(token.token))
        VerifierBuilder(roots=roots).build().verify(answer, token.imprint)
    except (VerificationError, ValueError) as error:
        text = str(error)
        reason = _REASON.search(text)
        return reason[1] if reason else " ".join(text.split())[:_LONGEST] or type(error).__name__
    if answer.tst_info.gen_time.replace(tzinfo=token.time.tzinfo) != token.time:
        return "its time is read in two ways"
    return ""
