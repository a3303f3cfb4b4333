"""Commands that are printed to be typed: words quoted as the shell of this system reads them.

POSIX shells: `shlex.quote`; a name with control characters or bytes that are no text takes the
form `$'…'` (POSIX.1-2024, section 2.2.4), in which they can be seen and typed. Windows: double
quotes, which cmd and PowerShell both take; a `$` or `%` in a name is not guarded there, since no
form serves both. A path that begins with a dash is written `./-…`, or it would be taken for an
option.
"""

from __future__ import annotations

import os
import re
import shlex

from ledger.model.filename import escape_for_screen

# What neither cmd nor PowerShell gives a meaning of its own.
_PLAIN_ON_WINDOWS = re.compile(r"[\w.:/\\+-]+")


def quote_word(text: str, *, windows: bool = os.name == "nt") -> str:
    """Return a word as it has to be typed.

    Args:
        text: the word.
        windows: for cmd and PowerShell instead of a POSIX shell.
    """
    if windows:
        return text if _PLAIN_ON_WINDOWS.fullmatch(text) else f'"{text}"'
    if escape_for_screen(text) != text:
        return _quote_hidden(text)
    return shlex.quote(text)


def quote_path(path: str, *, windows: bool = os.name == "nt") -> str:
    """Return a path as it has to be typed after a command."""
    return quote_word(f"./{path}" if path.startswith("-") else path, windows=windows)


def _quote_hidden(text: str) -> str:
    parts = []
    for character in text:
        shown = escape_for_screen(character)
        if shown != character and not 0xDC80 <= ord(character) <= 0xDCFF:
            # Byte by byte: shells differ in how they read the number of a character.
            shown = "".join(f"\\x{byte:02x}" for byte in character.encode())
        parts.append(f"\\{character}" if character in "\\'" else shown)
    return f"$'{''.join(parts)}'"
