"""A settings file as its flat, cleaned settings."""

from __future__ import annotations

from dataclasses import dataclass

from ledger.settings.decoding import decode
from ledger.settings.flat import Setting, flatten
from ledger.settings.formats import read_nested
from ledger.settings.secrets import take_out_secrets


@dataclass(frozen=True)
class SettingsText:
    """What a settings file says, without what nobody may keep.

    Args:
        format: `JSON`, `XML`, `INI`, `TOML`, `YAML` or `key = value`.
        encoding: how its text was stored.
        settings: flat settings in the order of the file, secrets taken out.
        taken_out: keys whose value was a secret or held one.
    """

    format: str
    encoding: str
    settings: tuple[Setting, ...]
    taken_out: tuple[str, ...] = ()

    def find(self, key: str) -> str | None:
        """Return the value of a key; None when it is absent, or given several times."""
        found = [each.value for each in self.settings if each.key == key]
        return found[0] if len(found) == 1 else None


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
    cleaned = take_out_secrets(flatten(nested, where))
    return SettingsText(name, encoding, cleaned.settings, cleaned.taken_out)
