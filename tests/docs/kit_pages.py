"""The pages for authors of checks that are made, or filled in, from the code itself."""

from __future__ import annotations

import inspect
import re
from collections.abc import Callable, Iterable
from enum import Enum
from functools import cached_property
from typing import Any

from ledger import testing
from ledger.contract import check, evidence, needs
from ledger.model import artefact, chunk, finding, georeferencing, header, known, lineage, process
from ledger.model import jobrecords as job
from ledger.testing.file_faults import FileFaults, HeaderFaults
from ledger.testing.point_faults import PointFaults
from ledger.testing.tiles import Tile, TileSet

_SLOT = re.compile(r"(<!-- table (\w+) -->\n).*?(<!-- end -->)", re.DOTALL)
_PART = re.compile(r"^    (?:    )?([a-z_][\w, ]*): (.*)$")

# What a check is given, in the order in which an author meets it.
_GIVEN: tuple[tuple[str, tuple[type, ...]], ...] = (
    ("The evidence", (evidence.Evidence, evidence.DeliveredFile, evidence.ReadFacts)),
    (
        "Headers and coordinate systems",
        (
            header.LasHeader,
            header.VlrFacts,
            georeferencing.CrsReading,
            georeferencing.CrsRecord,
            georeferencing.Crs,
            georeferencing.VerticalCrs,
        ),
    ),
    (
        "Records",
        (
            process.Card,
            process.Process,
            process.Input,
            artefact.Output,
            artefact.FileRecord,
            known.KnownValue,
            lineage.Custody,
            lineage.Line,
        ),
    ),
    (
        "The books beyond the delivery",
        (job.JobRecords, job.RawFile, job.Elsewhere, job.Precedent, job.PastAudit),
    ),
    ("Points", (chunk.PointChunk, chunk.Lattice)),
    ("The plan", (check.Plan,)),
    ("What a check states of itself", (check.Check, check.PointCheck)),
    ("What it answers", (finding.Finding, finding.Where)),
)

_EVIDENCE_HEAD = """\
# What a check is given

This page is generated from the code by `python tests/docs/generate.py`.

Everything here is read only: a check that alters what it was given is *errored*.
Keys of records stand in [fields.md](../reference/fields.md).
What `job.toml` may hold is `evidence.specification`, part by part as in the file: \
`evidence.specification.coordinates.vertical`; what is blank is None.

## Named inputs

What a check names in `needs`. Where one is not met, the check is *not assessed* by itself.

"""


def make_evidence_page() -> str:
    """Return the page of what a check is given, attribute by attribute."""
    table = [line for line in inspect.getdoc(needs).splitlines() if line.startswith("|")]  # type: ignore[union-attr]
    parts = [_EVIDENCE_HEAD, "\n".join(table), "\n"]
    for title, kinds in _GIVEN:
        parts.append(f"\n## {title}\n")
        parts += [_describe(kind) for kind in kinds]
    return "".join(parts)


def _describe(kind: type) -> str:
    summary = _first_line(kind)
    rows = [*_list_parts(kind), *_list_special(kind), *_list_methods(kind)]
    return f"\n### {kind.__name__}\n\n{summary}\n\n{_make_table('attribute', rows)}"


def fill_tables(page: str) -> str:
    """Return a page with the tables between its marks made anew."""
    return _SLOT.sub(lambda found: f"{found[1]}{_TABLES[found[2]]()}{found[3]}", page)


def _make_table(head: str, rows: Iterable[tuple[str, str]]) -> str:
    lines = [f"| `{name}` | {_escape(what)} |" for name, what in rows]
    return "\n".join([f"| {head} | what |", "| --- | --- |", *lines]) + "\n"


def _escape(text: str) -> str:
    return text.replace("|", "\\|")


def _first_line(thing: object) -> str:
    return (inspect.getdoc(thing) or "").splitlines()[0]


def _list_parts(kind: type) -> list[tuple[str, str]]:
    """Return the parts that a docstring explains, in its order, each as one line."""
    parts: list[tuple[str, str]] = []
    inside = False
    for line in (kind.__doc__ or "").splitlines():
        found = _PART.match(line)
        if line.strip() in ("Args:", "Attributes:"):
            inside = True
        elif inside and found and line.startswith("        "):
            parts += [(name.strip(), found[2]) for name in found[1].split(",")]
        elif inside and line.startswith("            ") and parts:
            parts[-1] = (parts[-1][0], f"{parts[-1][1]} {line.strip()}")
    return parts


def _list_properties(kind: type) -> list[tuple[str, str]]:
    return [
        (name, re.sub(r"^(Return|Say) ", "", _first_line(value)))
        for name, value in vars(kind).items()
        if isinstance(value, property | cached_property) and not name.startswith("_")
    ]


_SPECIAL = {"__getitem__": "…[name]", "__len__": "len(…)"}


def _list_special(kind: type) -> list[tuple[str, str]]:
    return [
        (shown, _first_line(vars(kind)[name]))
        for name, shown in _SPECIAL.items()
        if name in vars(kind)
    ]


def _list_methods(kind: type) -> list[tuple[str, str]]:
    """Return the public methods that a class itself has."""
    return [
        (f"{name}({_sign(method)})", _first_line(method))
        for name, method in vars(kind).items()
        if inspect.isfunction(method) and not name.startswith("_")
    ] + _list_properties(kind)


def _sign(function: Callable[..., Any]) -> str:
    """Return the parameters of a function without their types."""
    bare = [
        parameter.replace(annotation=inspect.Parameter.empty, default=_Named(parameter.default))
        if parameter.default is not inspect.Parameter.empty
        else parameter.replace(annotation=inspect.Parameter.empty)
        for name, parameter in inspect.signature(function).parameters.items()
        if name != "self"
    ]
    return str(inspect.Signature(bare))[1:-1]


class _Named:
    """A default as an author would type it."""

    def __init__(self, value: object) -> None:
        self._value = value

    def __repr__(self) -> str:
        if self._value == testing.METRES:
            return "METRES"
        if isinstance(self._value, Enum):
            return f"{type(self._value).__name__}.{self._value.name}"
        return repr(self._value)


def _list_functions(*names: str) -> str:
    functions = [(name, getattr(testing, name)) for name in names]
    rows = [(f"{name}({_sign(each)})", _first_line(each)) for name, each in functions]
    return _make_table("function", rows)


_TABLES: dict[str, Callable[[], str]] = {
    "Layout": lambda: _make_table("part", _list_parts(testing.Layout)),
    "Scene": lambda: _make_table(
        "part", [*_list_parts(testing.Scene), *_list_methods(testing.Scene)]
    ),
    "TileSet": lambda: _make_table(
        "of a survey",
        [*_list_methods(TileSet), *_list_methods(testing.SurveyBuilder), *_list_tile()],
    ),
    "PointFaults": lambda: _make_table("method", _list_methods(PointFaults)),
    "HeaderFaults": lambda: _make_table("method", _list_methods(HeaderFaults)),
    "FileFaults": lambda: _make_table("method", _list_methods(FileFaults)),
    "BookBuilder": lambda: _make_table("method", _list_methods(testing.BookBuilder)),
    "running": lambda: _list_functions("run_check"),
    "points": lambda: _list_functions("make_point", "make_table", "spread_points"),
    "chunks": lambda: _list_functions(
        "make_chunk",
        "make_file",
        "make_evidence",
        "drive_check",
        "fill_tally",
        "take",
        "restrict",
        "join",
        "cut",
        "shuffle",
    ),
    "laws": lambda: _list_functions("check_tally_laws", "find_difference"),
    "records": lambda: _list_functions("known", "make_fingerprint"),
}


def _list_tile() -> list[tuple[str, str]]:
    return [(f"tile(…).{name}", what) for name, what in _list_parts(Tile)]
