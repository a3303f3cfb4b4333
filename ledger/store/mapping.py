"""How files, outputs and fingerprints stand in lists and blobs of the book.

A time in nanoseconds is beyond 2^53 and therefore stands as text.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from ledger.model.artefact import FileRecord, FingerprintValue, Output


def file_to_values(file: FileRecord) -> dict[str, Any]:
    """Return the mapping of a file in a manifest."""
    return {
        "path": file.path,
        "sha256": file.sha256,
        "bytes": file.bytes,
        "mtime_ns": str(file.mtime_ns),
        "role": str(file.role),
        "facts": dict(file.facts),
        "fault": file.fault,
        "path_bytes": file.path_bytes,
    }


def file_from_values(stored: Mapping[str, Any]) -> FileRecord:
    """Read back what `file_to_values` returned; what says nothing may be left out."""
    return FileRecord(
        path=stored["path"],
        sha256=stored["sha256"],
        bytes=stored["bytes"],
        mtime_ns=int(stored.get("mtime_ns", 0)),
        role=stored.get("role", ""),
        facts=stored.get("facts", {}),
        fault=stored.get("fault", ""),
        path_bytes=stored.get("path_bytes", ""),
    )


def fingerprint_to_values(value: FingerprintValue) -> dict[str, Any]:
    """Return the mapping of a point fingerprint."""
    return {
        "version": value.version,
        "count": value.count,
        "geometry": value.geometry,
        "pulse": value.pulse,
        "full": value.full,
        "rounded": value.rounded,
    }


def fingerprint_from_values(stored: Mapping[str, Any]) -> FingerprintValue:
    """Read back what `fingerprint_to_values` returned."""
    return FingerprintValue(
        version=stored["version"],
        count=stored["count"],
        geometry=stored["geometry"],
        pulse=stored["pulse"],
        full=stored["full"],
        rounded=stored["rounded"],
    )


def output_to_values(output: Output) -> dict[str, Any]:
    """Return the mapping of an output of a run or step."""
    fingerprint = output.fingerprint
    return {
        "file": file_to_values(output.file),
        "points": output.points,
        "fingerprint": None if fingerprint is None else fingerprint_to_values(fingerprint),
    }


def output_from_values(stored: Mapping[str, Any]) -> Output:
    """Read back what `output_to_values` returned."""
    fingerprint = stored.get("fingerprint")
    return Output(
        file=file_from_values(stored["file"]),
        points=stored.get("points"),
        fingerprint=None if fingerprint is None else fingerprint_from_values(fingerprint),
    )
