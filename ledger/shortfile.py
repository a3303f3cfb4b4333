"""Reading a small file whole: a form, a specification.

Whatever stands under the name, nothing is waited for and no memory is filled: a pipe, a device or a
file of gigabytes is refused before it is read.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from ledger.errors import UnreadableFileError
from ledger.fixity import look_at
from ledger.model.phrases import count_things

# A form or a specification has kilobytes.
LARGEST_BYTES = 1 << 24


def read_short_file(path: Path, name: str, most: int = LARGEST_BYTES) -> bytes:
    """Return the content of a small regular file.

    Args:
        path: the file; links are followed.
        name: what it is, for the message: `the form`.
        most: the largest size, bytes.

    Raises:
        UnreadableFileError: absent, no regular file, too large, or the system refuses.
    """
    try:
        look_at(path)
        with path.open("rb") as stream:
            content = stream.read(most + 1)
    except UnreadableFileError as error:
        (fault,) = error.faults
        told = replace(fault, what=f"{name} {fault.what}")
        raise UnreadableFileError.from_faults((told,)) from None
    except OSError as error:
        raise UnreadableFileError(
            f"{name} cannot be read", found=error.strerror or str(error), where=str(path)
        ) from error
    if len(content) > most:
        raise UnreadableFileError(
            f"{name} is too large to be one",
            expected=f"at most {count_things(most, 'byte')}",
            where=str(path),
            remedy="name another file",
        )
    return content
