"""A command line without its secrets, before anything of it is kept.

An option that is named as a secret hides what follows it, behind `=` or as the next word. Which
names mean a secret, and which values look like one, is told by `ledger.settings.secrets`. Behind a
bare `-p`, which may mean a password as well as a port or a path, a number and what lies on this
computer are kept, and anything else is taken out: a word too few is better than a secret too many.
"""

from __future__ import annotations

import os
import re
import shlex
from collections.abc import Iterator, Sequence
from pathlib import Path

from ledger.dataclass import dataclass
from ledger.settings.flat import Setting
from ledger.settings.secrets import is_secret_name, take_out_secrets

_PAIR = re.compile(r"(?P<name>-{0,2}[A-Za-z][\w.-]*)=(?P<value>.*)", re.DOTALL)
_BARE, _PASSWORD = "-p", "password"
_NUMBER = re.compile(r"[-+]?\d+(?:[.,]\d+)?")
_NAME = re.compile(r"-{1,2}[A-Za-z][\w-]*|/[A-Za-z]+")


@dataclass(frozen=True)
class CleanedCommand:
    """A command line that may be kept.

    Args:
        text: its words, quoted as a POSIX shell would want them.
        taken_out: options, or numbers of words, whose value was taken out.
    """

    text: str
    taken_out: tuple[str, ...]


@dataclass(frozen=True)
class _Part:
    """A word, or the part of it behind `name=`."""

    lead: str
    name: str
    value: str


def clean_command(words: Sequence[str]) -> CleanedCommand:
    """Return the words of a command without secrets.

    A word that names something on this computer is a path, and no token however it looks.
    """
    parts = list(_split(words))
    cleaned = take_out_secrets(Setting(_name(part), part.value) for part in parts)
    secrets = [part.value for part in parts if part.value and is_secret_name(_name(part))]
    kept, taken_out = [], []
    for part, setting in zip(parts, cleaned.settings, strict=True):
        value = part.value if _is_plain_path(part, secrets) else setting.value
        if value != part.value:
            taken_out.append(part.name)
        kept.append(f"{part.lead}{value}")
    return CleanedCommand(shlex.join(kept), tuple(taken_out))


def _split(words: Sequence[str]) -> Iterator[_Part]:
    """Yield each word with the name that it stands under: its own, or the option before it."""
    before = ""
    for number, word in enumerate(words, start=1):
        pair = _PAIR.fullmatch(word)
        if pair is None:
            yield _Part("", before or f"word {number}", word)
        else:
            yield _Part(f"{pair['name']}=", pair["name"], pair["value"])
        before = word if _NAME.fullmatch(word) else ""


def _name(part: _Part) -> str:
    """Return the name that a value stands under; a bare `-p` is a password where it may be one."""
    harmless = _NUMBER.fullmatch(part.value) or _lies_there(part.value)
    return _PASSWORD if part.name == _BARE and part.value and not harmless else part.name


def _is_plain_path(part: _Part, secrets: Sequence[str]) -> bool:
    """Say whether a value names something on this computer, and neither is nor holds a secret.

    Names of tiles mix cases and digits as keys do; what is yet to be written lies in a folder that
    is there.
    """
    if is_secret_name(_name(part)) or any(secret in part.value for secret in secrets):
        return False
    return _lies_there(part.value)


def _lies_there(text: str) -> bool:
    folder = Path(text).parent
    try:
        return os.path.lexists(text) or (folder != Path() and os.path.isdir(folder))
    except ValueError:  # a null byte
        return False
