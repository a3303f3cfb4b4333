"""The manifest of a deliverable: path and SHA-256 of every file, its identity."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from ledger.audit.delivery import ReadFile
from ledger.canonical import compute_digest, encode
from ledger.dataclass import dataclass
from ledger.merkle import compute_root, hash_leaf
from ledger.remote.files import RemoteFile


@dataclass(frozen=True)
class Manifest:
    """The manifest of a folder.

    Args:
        content: canonical JSON of `[{path, sha256, bytes}]`, sorted by path; of a file of a store
            that was not hashed, with what the store calls its version, or two deliveries could be
            taken for one.
        sha256: its digest.
        root: root of the RFC 9162 tree over the canonical `{path, sha256}` of each file, hex, so
            that a receipt can show one file without showing the others.
        seen: canonical JSON of `[{path, path_bytes, mtime_ns, file_id}]`: what has to be
            unchanged for a quick audit to take a digest again. No part of the identity.
    """

    content: bytes
    sha256: str
    root: str
    seen: bytes


def make_manifest(files: Sequence[ReadFile]) -> Manifest:
    """Return the manifest of files that are sorted by path; unread ones have no digest."""
    rows = [_make_row(each) for each in files]
    leaves = (hash_leaf(encode({"path": r["path"], "sha256": r["sha256"]})) for r in rows)
    seen = [
        {
            "path": each.file.path,
            "path_bytes": each.found.name_bytes,
            "mtime_ns": str(each.fixity.mtime_ns),
            "file_id": each.fixity.file_id,
        }
        for each in files
        if each.fixity is not None
    ]
    content = encode(rows)
    return Manifest(content, compute_digest(content), compute_root(leaves).hex(), encode(seen))


def _make_row(read: ReadFile) -> dict[str, Any]:
    row = {"path": read.file.path, "sha256": read.file.sha256, "bytes": read.file.bytes}
    if not read.file.sha256 and isinstance(read.found.path, RemoteFile):
        row["version"] = read.found.path.version
    return row
