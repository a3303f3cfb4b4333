"""DER: reading and writing the few values that a time stamp is made of.

Only definite lengths and single-byte tags are read, which is all that DER and RFC 3161 have; what
else comes is refused.

Source: ITU-T X.690 (02/2021) sections 8.1, 8.9, 8.19 and 10.
"""

from __future__ import annotations

from collections.abc import Iterator

from ledger.dataclass import dataclass

BOOLEAN, INTEGER, OCTETS, NULL, OID, TIME = 0x01, 0x02, 0x04, 0x05, 0x06, 0x18
SEQUENCE, SET, FIRST = 0x30, 0x31, 0xA0
_LONG = 0x80
_MOST_LENGTH_BYTES = 4
_CONTINUES = 0x1F  # the low bits of a tag of more than one byte


@dataclass(frozen=True)
class Value:
    """One value.

    Args:
        tag: its identifier octet.
        content: its content octets.
        raw: the whole of it, as it was read.
    """

    tag: int
    content: bytes
    raw: bytes

    def parts(self) -> list[Value]:
        """Return the values inside a sequence, a set or an explicit tag.

        Raises:
            ValueError: it holds something else.
        """
        return list(_split(self.content))

    @property
    def number(self) -> int:
        """Return the content as a whole number, two's complement."""
        return int.from_bytes(self.content, "big", signed=True)

    @property
    def oid(self) -> str:
        """Return the content as an object identifier in dotted form."""
        numbers: list[int] = []
        value = 0
        for byte in self.content:
            value = value << 7 | byte & 0x7F
            if byte < _LONG:
                numbers.append(value)
                value = 0
        if not numbers:
            return ""
        first = min(numbers[0] // 40, 2)
        return ".".join(str(each) for each in (first, numbers[0] - 40 * first, *numbers[1:]))


def read_value(content: bytes) -> Value:
    """Return the one value that some bytes hold.

    Raises:
        ValueError: they hold none, or more.
    """
    values = list(_split(content))
    if len(values) != 1:
        raise ValueError(f"{len(values)} DER values")
    return values[0]


def write_value(tag: int, *parts: bytes) -> bytes:
    """Return a value with its content."""
    content = b"".join(parts)
    size = len(content)
    if size < _LONG:
        return bytes((tag, size)) + content
    length = size.to_bytes((size.bit_length() + 7) // 8, "big")
    return bytes((tag, _LONG | len(length))) + length + content


def _split(content: bytes) -> Iterator[Value]:
    place = 0
    while place < len(content):
        start, place = place, place + 2
        if place > len(content) or content[start] & _CONTINUES == _CONTINUES:
            raise ValueError("no DER value")
        size = content[start + 1]
        if size >= _LONG:
            count = size - _LONG
            if not 0 < count <= _MOST_LENGTH_BYTES or place + count > len(content):
                raise ValueError("no DER value")
            size = int.from_bytes(content[place : place + count], "big")
            place += count
        if place + size > len(content):
            raise ValueError("a DER value ends too early")
        yield Value(content[start], content[place : place + size], content[start : place + size])
        place += size
