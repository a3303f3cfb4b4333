"""Passwords in what a person types or pastes: refused at once, since a book gives nothing back.

Stricter than what is taken out of settings files: a mark is called `PIN 3`, and a person cannot
look at what was taken out of an answer before it is kept. Patterns: common practice, no source;
user information in addresses: RFC 3986 section 3.2.1; basic and bearer: RFC 7617, RFC 6750.
"""

from __future__ import annotations

import re

from ledger.errors import UsageError

_NAMED = (
    r"pass ?(?:word|wd|phrase|code|wort)|pwd|secret|token|(?:api|access|private)[-_ ]?key|"
    r"kennwort|contrase[nñ]a|mot de passe"
)
_LOOKS_SECRET = (
    re.compile(r"[^\s/@:?#\"'<>]+:[^\s/@\"'<>\[]+@[\w-]+(?:\.[\w-]+)+"),
    re.compile(rf"(?<![a-z])(?:{_NAMED})\s*[:=]\s*[^\s\[]", re.IGNORECASE),
    re.compile(rf"(?<![a-z])(?:{_NAMED})\s+(?=[^\s\[]*\d)\S{{4,}}", re.IGNORECASE),
    re.compile(r"\b(?:basic|bearer)\s+(?=\S*\d)[A-Za-z0-9+/=._~-]{8,}", re.IGNORECASE),
    re.compile(r"(?<![\w.-])(?=[\w.-]*[A-Za-z.])[\w.-]+:\d{2,5}[:/][\w.-]+:[^\s:/]*:[^\s,;\[]+"),
    re.compile(r"-----BEGIN [A-Z ]*PRIVATE KEY-----"),
)


def require_no_secret(text: str, what: str) -> None:
    """Refuse a text that holds what looks like a password, without repeating it.

    Args:
        text: as it was typed.
        what: what was asked for, for the message.

    Raises:
        UsageError: it looks like that.
    """
    if any(pattern.search(text) for pattern in _LOOKS_SECRET):
        raise UsageError(
            f"{what} holds what looks like a password, and nothing of it was kept",
            remedy="write it without user name and password; what is entered can never be removed",
        )
