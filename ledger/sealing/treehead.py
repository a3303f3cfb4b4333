"""What a seal signs: which book, how many entries, and the root of its tree.

Source: C2SP tlog-checkpoint: three lines, origin, size as decimal number, root in base64.
"""

from __future__ import annotations

import base64
import binascii
import re

from ledger.dataclass import dataclass
from ledger.errors import MalformedFileError
from ledger.merkle import HASH_SIZE

_ORIGIN = "swathbook/book/"
_BOOK_DIGITS = 32
_SIZE = re.compile(r"0|[1-9][0-9]{0,15}")


@dataclass(frozen=True)
class TreeHead:
    """A book at one instant.

    Args:
        origin: which tree; see `make_origin`.
        size: number of entries.
        root: RFC 9162 root over them, 32 bytes.
    """

    origin: str
    size: int
    root: bytes

    def to_text(self) -> str:
        """Return the text that is signed."""
        return f"{self.origin}\n{self.size}\n{base64.b64encode(self.root).decode()}\n"


def make_origin(first_leaf: bytes) -> str:
    """Return the name of a book: its first entry is the same in every copy and in no other book.

    Args:
        first_leaf: hash of the leaf of the first entry, 32 bytes.
    """
    return _ORIGIN + first_leaf.hex()[:_BOOK_DIGITS]


def parse_tree_head(text: str) -> TreeHead:
    """Read the text that a seal signs; extra lines below it are left aside.

    Raises:
        MalformedFileError: it is none.
    """
    origin, size, encoded = [*text.split("\n"), "", "", ""][:3]
    try:
        root = base64.b64decode(encoded, validate=True)
    except (binascii.Error, ValueError):
        root = b""
    right_size = _SIZE.fullmatch(size) is not None
    if not origin or not right_size or len(root) != HASH_SIZE:
        raise MalformedFileError(
            "this note is no seal of a book",
            found=origin[:60] or "nothing",
            expected="three lines: which book, number of entries, root",
        )
    return TreeHead(origin, int(size), root)
