"""How recorded values are written on screens."""

from __future__ import annotations

import re

from ledger.model.known import KnownBy, KnownValue
from ledger.report.screen import format_digest

_DIGEST_DIGITS = 64
# A coordinate system as text: its keyword, then its name (OGC 18-010r11, section 6).
_WKT = re.compile(r'[A-Z_]{5,}\s*[\[(]\s*"(?P<name>[^"]*)"', re.IGNORECASE)


def label_field(key: str) -> str:
    """Return a field's key as words: `run.mount_mode` is `mount mode`."""
    return key.rsplit(".", 1)[-1].replace("_", " ")


def write_value(known: KnownValue | None) -> str:
    """Return a value with its unit; a file by its path and digest, WKT by its name."""
    if known is None:
        return "not recorded"
    value = known.value
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, list):
        value = "  ".join(str(part) for part in value)
    text = str(value)
    wkt = _WKT.match(text)
    if wkt is not None:
        return f"{wkt['name']} (as WKT)"
    if known.where and len(text) == _DIGEST_DIGITS:
        return f"{known.where}  (sha256 {format_digest(text)} …)"
    return f"{text} {known.unit}".strip()


def tell_how(known: KnownValue) -> str:
    """Return how a value is known; whether it is confirmed, where that matters."""
    if known.known_by in (KnownBy.CARRIED, KnownBy.ASSUMED):
        return f"{known.known_by}, {'confirmed' if known.confirmed else 'not confirmed'}"
    return str(known.known_by)
