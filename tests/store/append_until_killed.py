"""Adds entries to a book for ever, or a given number, and says each one once it is stored.

Run as a program by the tests: folder, name of the writer, number of entries (0 for ever).
"""

from __future__ import annotations

import sys
from pathlib import Path

from ledger.canonical import compute_digest, encode
from ledger.model.entry import Draft, Kind
from ledger.store.writing import BookWriter


def main() -> None:
    """Add entries, each with a manifest of its own so that a write takes several pages."""
    folder, name, count = Path(sys.argv[1]), sys.argv[2], int(sys.argv[3])
    number = 0
    with BookWriter.open(folder, machine="0123abcd") as writer:
        tell("ready")
        sys.stdin.readline()
        while count == 0 or number < count:
            number += 1
            files = [
                {
                    "path": f"{name}/{number}/{place}",
                    "sha256": compute_digest(f"{name} {number} {place}".encode()),
                    "bytes": place,
                }
                for place in range(12)
            ]
            manifest = encode(files)
            values = {"manifest": compute_digest(manifest), "count": number, "writer": name}
            entry = writer.append(Draft(Kind.SIGHTING, values), (manifest,))
            tell(f"{entry.seq} {number}")


def tell(line: str) -> None:
    """Write a line that the reading process has at once."""
    sys.stdout.write(line + "\n")
    sys.stdout.flush()


if __name__ == "__main__":
    main()
