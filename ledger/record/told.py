"""Values that the outputs themselves tell: program, version, coordinate system.

Only what all point files agree in is taken; where they differ, nothing is known.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence

from ledger.crs import read_crs
from ledger.errors import SwathbookError
from ledger.forms import parse_answer
from ledger.model.fields import FIELDS
from ledger.model.georeferencing import CrsRecord
from ledger.model.header import LasHeader
from ledger.model.known import KnownBy, KnownValue
from ledger.record.candidates import Candidate

# A program name with its version behind it, which has a point in it or is called one:
# "demo-proc 4.1.0", "Proc v2 (64 bit)", "proc (version 170718)".
_VERSION = re.compile(
    r"(?P<name>.*?[^\s(])[\s,/_(-]+"
    r"(?:[vV](?:er|ersion)?[\s.:]*(?P<called>\d[\w.+-]*)|(?P<pointed>\d+(?:\.\d+)+[\w.+-]*)).*"
)


def read_told(files: Sequence[Candidate], kind: str = "run") -> dict[str, KnownValue]:
    """Return the values of a run or step that its outputs tell, by field key."""
    headers = [(each.stored, each.header) for each in files if each.header is not None]
    if not headers:
        return {}
    first, header = headers[0]
    values: dict[str, KnownValue] = {}
    if len({each.generating_software for _, each in headers}) == 1:
        values.update(_read_software(header.generating_software, f"{first}: generating software"))
    if len({_write_crs(each) for _, each in headers}) == 1:
        values.update(_read_crs(header, first))
    return {f"{kind}.{name}": known for name, known in values.items()}


def _read_software(text: str, where: str) -> Iterator[tuple[str, KnownValue]]:
    match = _VERSION.fullmatch(text.strip())
    name = match["name"] if match else text.strip()
    if name:
        yield "software", KnownValue(name, known_by=KnownBy.READ, where=where)
    if match:
        version = match["called"] or match["pointed"]
        yield "version", KnownValue(version, known_by=KnownBy.READ, where=where)


def _write_crs(header: LasHeader) -> str:
    return f"{header.wkt}\x1f{sorted((header.geo_keys or {}).items())}"


def _read_crs(header: LasHeader, path: str) -> Iterator[tuple[str, KnownValue]]:
    text = _name_crs(read_crs(header).governing)
    try:
        known = parse_answer(FIELDS["run.crs"], text)
    except SwathbookError:  # absent, or keys that have no text of their own
        return
    yield (
        "crs",
        KnownValue(known.value, known_by=KnownBy.READ, where=f"{path}: coordinate system"),
    )


def _name_crs(record: CrsRecord) -> str:
    """Return the code of a coordinate system where it says it all, else the record as written."""
    crs = record.crs
    if crs is None or not crs.code.startswith("EPSG:"):
        return record.text
    if crs.vertical is None:
        return crs.code
    if crs.vertical.code.startswith("EPSG:"):
        return f"{crs.code}+{crs.vertical.code.removeprefix('EPSG:')}"
    return record.text
