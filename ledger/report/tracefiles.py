"""What a trace says of files: where they are known, what was raw, where other copies lie."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import starmap

from ledger.model.artefact import Role
from ledger.model.entry import Kind
from ledger.model.phrases import count_things, describe_bytes
from ledger.report.screen import format_digest
from ledger.report.tracerows import Row, join_ids
from ledger.report.tracetable import ALL_HINT, list_some
from ledger.trace.nodes import Backing, ChainNode, Copy, Place, TraceResult

_PLACES_SHOWN = 2
_AUDITS_SHOWN = 2
_NAMES_SHOWN = 3
_FLIGHTS_SHOWN = 2
_RELATION = {
    "output": "made by {}",
    "registered": "registered with {}",
    "audited": "audited in {}",
    "input": "used by {}",
}


def list_head(result: TraceResult, *, everything: bool) -> Iterator[Row]:
    """Yield what was asked about, where the book knows it, and in which audits it was."""
    if result.sha256:
        digest = result.sha256 if everything else f"{format_digest(result.sha256)} …"
        yield Row("file", f"{result.path}, sha256 {digest}" if result.path else digest)
        others = [place for place in result.places if place.path != result.path]
        told = [_describe_place(place) for place in others]
        if told:
            yield Row("known as", list_some(told, _PLACES_SHOWN, everything=everything))
    audits = [node for node in result.chain if node.kind == "audit"]
    yield from list_audits(audits, everything=everything)


def list_audits(audits: Sequence[ChainNode], *, everything: bool) -> Iterator[Row]:
    """Yield one row for each audit, the latest first."""
    latest = sorted(audits, key=lambda node: node.entry, reverse=True)
    shown = latest if everything else latest[: _AUDITS_SHOWN + (len(latest) == _AUDITS_SHOWN + 1)]
    label = "audited"
    for node in shown:
        yield Row(label, describe_audit(node))
        label = ""
    if len(latest) > len(shown):
        left = count_things(len(latest) - len(shown), "earlier audit")
        yield Row("", f"and {left}: {ALL_HINT}")


def describe_audit(node: ChainNode) -> str:
    """Return verdict and day of an audit, what replaced it, and why it holds no longer."""
    values = {key.rpartition(".")[2]: known.value for key, known in node.values.items()}
    quick = ", quick" if values.get("quick") else ""
    later = f"; replaced by {by}" if (by := values.get("replaced_by")) else ""
    verdict = values.get("verdict", "no verdict")
    standing = f". {how.rstrip('.')}" if (how := str(values.get("standing", ""))) else ""
    return f"{node.id} of {node.name}, {node.time[:10]}{quick}: {verdict}{later}{standing}"


def list_raw(result: TraceResult) -> Iterator[Row]:
    """Yield the raw files of the chain, and where other copies of them lie."""
    files = {node.id: node for node in result.chain if node.kind == "file" and not node.sources}
    label = "raw files"
    flights = {
        node.id: [source for source in node.sources if source in files]
        for node in result.chain
        if node.kind == "flight"
    }
    for ids in _group_flights(flights):
        held = dict.fromkeys(name for flight in ids for name in flights[flight])
        if held:
            yield Row(label, sum_up((files[name] for name in held), f" of {join_ids(ids)}"))
        else:
            yield Row(label, "", f"those of {join_ids(ids)}")
        label = ""
    registered = {name for held in flights.values() for name in held}
    for node in result.chain:
        loose = [name for name in node.sources if name in files and name not in registered]
        loose = [name for name in loose if not _is_named(node, files[name])]
        if loose and node.kind in ("run", "step"):
            yield Row("used", sum_up((files[name] for name in loose), f" by {node.id}"))
        if loose and node.kind in (Kind.FILES, Kind.SIGHTING):
            yield Row("files", sum_up(files[name] for name in loose))
    if result.backing.copies or "copies" in result.not_recorded:
        yield _sum_up_copies(result.backing)


def _group_flights(flights: Mapping[str, Sequence[str]]) -> list[list[str]]:
    """Return the flights one by one; where there are many, all with files and all without."""
    if len(flights) <= _FLIGHTS_SHOWN:
        return [[name] for name in flights]
    groups = ([name for name in flights if flights[name]], [n for n in flights if not flights[n]])
    return [group for group in groups if group]


def _is_named(node: ChainNode, file: ChainNode) -> bool:
    """Say whether a file stands in a row of its own already: a geoid, a calibration."""
    return any(str(known.value).startswith(file.id) for known in node.values.values())


def sum_up(files: Iterable[ChainNode], whose: str = "") -> str:
    """Return how many files there are, and the names of the captures among them."""
    listed = list(files)
    captures = [node for node in listed if _read(node, "role") == Role.CAPTURE]
    size = sum(number for node in listed if isinstance(number := _read(node, "bytes"), int))
    named = captures or listed
    shown = named if len(named) <= _NAMES_SHOWN else named[: _NAMES_SHOWN - 1]
    kind = f"{len(captures)} capture " if captures else ""
    left, others = len(named) - len(shown), len(listed) - len(named)
    text = f"{count_things(len(listed), 'file')}{whose}, {describe_bytes(size)}: {kind}"
    text += ", ".join(node.name for node in shown)
    text += f" and {left} more" if left else ""
    text += f"; {count_things(others, 'other')}" if others else ""
    return text + (f": {ALL_HINT}" if left or others else "")


def _read(node: ChainNode, name: str) -> object:
    known = node.values.get(f"file.{name}")
    return None if known is None else known.value


def _sum_up_copies(backing: Backing) -> Row:
    """Return how many good copies there are, and on which drives the files were seen."""
    drives: dict[str, list[Copy]] = {}
    for copy in backing.copies:
        drives.setdefault(copy.drive or copy.volume, []).append(copy)
    if not drives:
        return Row("copies", "", "copies")
    told = list_some([*starmap(_describe_drive, drives.items())], _NAMES_SHOWN, everything=False)
    return Row("copies", f"{backing.good} good of {backing.needed} asked for: {told}")


def _describe_drive(drive: str, copies: Sequence[Copy]) -> str:
    files = len({copy.sha256 for copy in copies})
    back = len({copy.sha256 for copy in copies if copy.verified})
    wrong = len({copy.sha256 for copy in copies if copy.wrong})
    latest = max(copy.time for copy in copies)[:10]
    told = "seen, not read back"
    if back:
        told = "read back" if back == files else f"{back} of them read back"
    bad = f", {wrong} found wrong" if wrong else ""
    return f"{drive} ({count_things(files, 'file')}, {told}{bad}, last {latest})"


def _describe_place(place: Place) -> str:
    told = _RELATION.get(place.relation, "seen").format(place.owner or "no flight")
    return f"{place.path} ({told}, entry {place.entry})"
