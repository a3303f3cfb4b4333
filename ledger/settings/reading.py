"""A settings file as its flat, cleaned settings."""

from __future__ import annotations

from ledger.settings.decoding import decode
from ledger.settings.flat import SettingsText, flatten
from ledger.settings.formats import read_nested
from ledger.settings.pairing import name_secrets
from ledger.settings.secrets import take_out_secrets


def read_settings(content: bytes, where: str) -> SettingsText:
    """Read the settings of a file.

    Args:
        content: the whole file.
        where: its name, for messages.

    Raises:
        MalformedFileError: too large, no text, a damaged JSON or XML, or no settings at all.
    """
    text, encoding = decode(content, where)
    name, nested = read_nested(text, where)
    cleaned = take_out_secrets(flatten(name_secrets(nested), where))
    return SettingsText(name, encoding, cleaned.settings, cleaned.taken_out)
