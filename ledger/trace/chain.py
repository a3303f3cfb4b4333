"""The chain from a file back to the capture, node by node.

Nodes are added nearest first, each once. Nothing that a record could say and does not is left out:
its key is listed as not recorded.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Mapping
from dataclasses import replace
from functools import cached_property

from ledger.audited import is_said_already, read_audited_folder
from ledger.lateness import describe_late_card, read_first_times
from ledger.lineage import Ancestry
from ledger.loading import load_part
from ledger.model.antenna import read_base_height
from ledger.model.blanks import list_blanks
from ledger.model.entry import Entry, Kind
from ledger.model.ids import KINDS
from ledger.model.known import KnownBy, KnownValue
from ledger.model.late import describe_late_process
from ledger.model.lineage import Custody
from ledger.model.process import Card, Input, Process, works_on_others
from ledger.model.rig import RigState, find_state
from ledger.repeated import PastRepeat, read_repeats
from ledger.righistory import read_rig_states
from ledger.store.reading import Book, Use
from ledger.trace.amendments import read_amendments
from ledger.trace.changes import RunsBefore
from ledger.trace.files import (
    FileNotes,
    list_copies,
    list_file_fields,
    make_file_id,
    read_digest,
    sort_values,
)
from ledger.trace.nodes import Amendment, Backing, ChainNode, Setup

_DAY = len("2026-05-14")


class ChainBuilder:
    """Collects nodes from one book.

    Args:
        book: an open book.
    """

    def __init__(self, book: Book) -> None:
        """Start with an empty chain."""
        self.book = book
        self.ancestry = Ancestry(book)
        self.files = FileNotes(book)
        self.nodes: dict[str, ChainNode] = {}
        self._raw: dict[str, str] = {}

    @cached_property
    def _runs_before(self) -> RunsBefore:
        return RunsBefore(self.book.processes())

    def add_file(self, sha256: str, asked: str, custody: Custody) -> None:
        """Add a file, the audits it was in, and everything that it comes from.

        Args:
            sha256: its digest.
            asked: the path that was asked about; the node keeps it only where the book knows it.
            custody: its origin.
        """
        makers = self._list_makers(custody)
        uses = self.book.uses(sha256)
        path = asked if not uses or any(use.file.path == asked for use in uses) else ""
        node = self.files.make_node(sha256, path, [maker.id for maker in makers], custody)
        self.nodes[node.id] = node
        for use in self._list_audits(sha256):
            self.add_audit(use.owner, use.entry, [node.id])
        self.add_processes(makers)
        if not makers:
            self._add_registering_flight(sha256)
            self._raw[sha256] = node.name

    def add_processes(self, processes: Iterable[Process]) -> None:
        """Add processes, those they descend from, and the flights and files that they used."""
        waiting = deque(processes)
        flights: dict[str, None] = {}
        leaves: dict[str, Input] = {}
        while waiting:
            process = waiting.popleft()
            if process.id in self.nodes:
                continue
            sources: dict[str, None] = {}
            for item in process.inputs:
                for source in self._find_sources(process, item, leaves):
                    if isinstance(source, Process):
                        waiting.append(source)
                        sources[source.id] = None
                    else:
                        sources[source] = None
                if item.flight:
                    flights[item.flight] = None
            self._add_process(process, sources, leaves)
        for flight in flights:
            self.add_flight(flight)
        for item in leaves.values():
            self._add_leaf(item.sha256, item.path)

    def add_record(self, name: str) -> None:
        """Add a run, step, flight, rig, statement or table by its id; nothing for an unknown id."""
        card = self.book.card(name)
        process = self.book.process(name)
        if process is not None:
            self.add_processes([process])
        elif card is not None and KINDS.get(name[:1]) == "flight":
            self.add_flight(name)
        elif card is not None and KINDS.get(name[:1]) in ("statement", "points"):
            self._add_statement(card)
        elif card is not None:
            self.add_rig(card)

    def add_flight(self, name: str) -> None:
        """Add a flight, the rig that was flown and the raw files."""
        card = self.book.card(name)
        if card is None or name in self.nodes:
            return
        raw = self.book.registrations(name)
        rig = self._find_rig(card)
        sources = [*([rig.id] if rig else []), *(make_file_id(use.file.sha256) for use in raw)]
        missing = [] if raw else ["flight.files"]
        late = describe_late_card(self.book, card, self._first_times)
        node = self._make_card_node("flight", card, sources, missing)
        self.nodes[name] = replace(node, values={**node.values, **_tell_late("flight", late)})
        if rig is not None:
            self.add_rig(self._find_as_flown(rig, card))
        for use in raw:
            node = self.nodes.setdefault(make_file_id(use.file.sha256), self.files.make_leaf(use))
            self._raw.setdefault(use.file.sha256, node.name)

    def add_rig(self, card: Card) -> None:
        """Add a rig."""
        if card.id in self.nodes:
            return
        named = [card.values[key] for key in list_file_fields(card.values)]
        files = {digest: value.where for value in named if (digest := read_digest(value))}
        sources = [make_file_id(digest) for digest in files]
        node = self._make_card_node("rig", card, sources, [])
        self.nodes[card.id] = replace(
            node, states=self._rig_states.get(card.id, ()), setups=self._list_setups(card)
        )
        for digest, path in files.items():  # a calibration, a photo: no raw data to be copied
            leaf = self.files.make_node(digest, path, [], None)
            self.nodes.setdefault(leaf.id, leaf)

    def _find_as_flown(self, rig: Card, flight: Card) -> Card:
        """Return a rig as it was at a flight: it may have been altered since."""
        takeoff = flight.values.get("flight.takeoff")
        moment = "" if takeoff is None else str(takeoff.value)
        states = self._rig_states.get(rig.id, ())
        state, _ = find_state(states, moment)
        if state is None or state is states[-1]:
            return rig
        values = state.values
        return replace(rig, values=values, entry=state.entry, time=state.time, by=state.by)

    def _list_setups(self, rig: Card) -> tuple[Setup, ...]:
        """Return the base antenna at each flight of a rig, in order of take-off."""
        setups = (
            Setup(flight.id, _find_day(flight), read_base_height(flight.values))
            for flight in self.book.cards("flight")
            if (flown := self._find_rig(flight)) is not None and flown.id == rig.id
        )
        return tuple(sorted(setups, key=lambda setup: setup.day))

    def _add_statement(self, card: Card) -> None:
        """Add a statement or table, the files that it names, and what a statement is about."""
        named = [card.values[key] for key in list_file_fields(card.values)]
        files = {digest: value.where for value in named if (digest := read_digest(value))}
        about = card.values.get("statement.about")
        process = None if about is None else self.book.process(str(about.value))
        sources = [*([process.id] if process else []), *map(make_file_id, files)]
        self.nodes[card.id] = self._make_card_node(KINDS[card.id[:1]], card, sources, [])
        for digest, path in files.items():
            node = self.files.make_node(digest, path, [], None)
            self.nodes.setdefault(node.id, node)
        if process is not None:
            self.add_processes([process])

    def add_audit(
        self,
        name: str,
        number: int,
        sources: Iterable[str],
        told: Mapping[str, KnownValue] | None = None,
    ) -> None:
        """Add an audit, by the entry that holds it, with what else is told of it."""
        entry = self.book.entry(number)
        if entry is None:
            return
        kept = {
            f"audit.{key}": KnownValue(entry.values[key], known_by=KnownBy.READ)
            for key in ("folder", "verdict", "quick")
            if key in entry.values
        }
        latest = self._latest_audits.get(entry.values.get("folder"), name)
        if latest != name:
            kept["audit.replaced_by"] = KnownValue(latest, known_by=KnownBy.READ)
        elif standing := self._judge(entry):
            kept["audit.standing"] = KnownValue(standing, known_by=KnownBy.READ)
        self.nodes[name] = ChainNode(
            kind="audit",
            id=name,
            entry=number,
            sources=tuple(sources),
            values={**kept, **(told or {})},
            name=str(entry.values.get("folder", "")),
            by=entry.by,
            time=entry.time,
        )

    def list_copies(self) -> Backing:
        """Return where else the raw files of the chain were seen."""
        return list_copies(self.book, self._raw)

    @property
    def has_raw_files(self) -> bool:
        """Say whether the chain reaches any file that no process made."""
        return bool(self._raw)

    @cached_property
    def _amendments(self) -> Mapping[str, tuple[Amendment, ...]]:
        return read_amendments(self.book)

    @cached_property
    def _repeats(self) -> Mapping[str, tuple[PastRepeat, ...]]:
        return read_repeats(self.book)

    @cached_property
    def _rig_states(self) -> Mapping[str, tuple[RigState, ...]]:
        return read_rig_states(self.book)

    @cached_property
    def _first_times(self) -> dict[str, str]:
        return read_first_times(self.book)

    @cached_property
    def _latest_audits(self) -> dict[object, str]:
        """Return the id of the deliverable that was audited last, by folder."""
        return {
            entry.values.get("folder"): str(entry.values.get("id", ""))
            for entry in self.book.entries(Kind.AUDIT)
        }

    def _judge(self, entry: Entry) -> str:
        """Return why an audit holds no longer; empty while it does. Loaded for audits alone."""
        judge = load_part("ledger.standing", "judge_by_look")
        return str(judge(self.book, read_audited_folder(self.book, entry)).sentence)

    def _list_makers(self, custody: Custody) -> list[Process]:
        return [line.processes[0] for line in custody.lines]

    def _list_audits(self, sha256: str) -> list[Use]:
        """Return the latest telling audit of each deliverable that held the file."""
        telling: dict[str, tuple[Use, Entry]] = {}
        for use in self.book.uses(sha256):
            entry = self.book.entry(use.entry) if use.relation == "audited" else None
            _, before = telling.get(use.owner, (None, None))
            if entry is not None and not is_said_already(entry, before):
                telling[use.owner] = (use, entry)
        return [use for use, _ in telling.values()]

    def _add_registering_flight(self, sha256: str) -> None:
        for use in self.book.uses(sha256):
            if use.relation == "registered" and use.owner:
                self.add_flight(use.owner)

    def _find_sources(
        self, process: Process, item: Input, leaves: dict[str, Input]
    ) -> list[Process | str]:
        if item.flight:
            return [item.flight]
        makers = self._find_other_makers(process, item)
        if makers:
            return list(makers)
        leaves.setdefault(item.sha256, item)
        return [make_file_id(item.sha256)]

    def _find_other_makers(self, process: Process, item: Input) -> list[Process]:
        return [
            maker.process
            for maker in (self.ancestry.find_makers(item.sha256) if item.sha256 else ())
            if maker.process.id != process.id
        ]

    def make_process_node(self, process: Process) -> ChainNode:
        """Return the node of a run or step, without its sources."""
        values = {**sort_values(process.values), **_decision_values(process)}
        for item in process.inputs:
            if item.assumed:
                values[f"{process.kind}.made_from"] = KnownValue(
                    item.flight, known_by=KnownBy.ASSUMED, confirmed=False
                )
        made = {item.sha256 for item in process.inputs if self._find_other_makers(process, item)}
        later = works_on_others(process.kind, process.inputs, made)
        missing = list(list_blanks(process.kind, values, later=later))
        if not process.inputs:
            missing.append(f"{process.kind}.inputs")
        for key in list_file_fields(process.values):
            if read_digest(process.values[key]):
                continue
            known = self.files.find_digest(process, str(process.values[key].value))
            if known is None:
                missing.append(f"{key}.sha256")
            else:
                values[f"{key}.sha256"] = known
        values |= _tell_late(process.kind, describe_late_process(process))
        values |= _tell_repeats(process.kind, self._repeats.get(process.id, ()))
        before, changes = self._runs_before.find_changes(process)
        return ChainNode(
            kind=process.kind,
            id=process.id,
            entry=process.entry,
            values=values,
            name=process.name,
            by=process.by,
            time=process.time,
            run_before=before.id if before else "",
            changes=changes,
            amended=self._amendments.get(process.id, ()),
            not_recorded=tuple(missing),
        )

    def _add_process(
        self, process: Process, sources: dict[str, None], leaves: dict[str, Input]
    ) -> None:
        node = self.make_process_node(process)
        for key in list_file_fields(process.values):
            value = process.values[key]
            digest = read_digest(node.values.get(f"{key}.sha256", value))
            if digest:
                sources[make_file_id(digest)] = None
                path = value.where if read_digest(value) else str(value.value)
                leaves.setdefault(digest, Input(sha256=digest, path=path))
        self.nodes[process.id] = replace(node, sources=tuple(sources))

    def _add_leaf(self, sha256: str, path: str) -> None:
        node = self.files.make_node(sha256, path, [], None)
        self.nodes.setdefault(node.id, node)
        self._raw.setdefault(sha256, node.name)

    def _find_rig(self, card: Card) -> Card | None:
        named = card.values.get("flight.rig")
        if named is None:
            return None
        known = self.book.cards("rig")
        return next((rig for rig in known if named.value in (rig.id, rig.name)), None)

    def _make_card_node(
        self, kind: str, card: Card, sources: list[str], missing: list[str]
    ) -> ChainNode:
        return ChainNode(
            kind=kind,
            id=card.id,
            entry=card.entry,
            sources=tuple(sources),
            values=sort_values(card.values),
            name=card.name,
            by=card.by,
            time=card.time,
            amended=self._amendments.get(card.id, ()),
            not_recorded=(*list_blanks(kind, card.values), *missing),
        )


def _find_day(flight: Card) -> str:
    """Return the day of take-off; where nobody said, that of the entry."""
    takeoff = flight.values.get("flight.takeoff")
    return (str(takeoff.value) if takeoff is not None else flight.time)[:_DAY]


def _tell_late(kind: str, late: str) -> dict[str, KnownValue]:
    """Return that a record was made late, computed and not recorded; nothing where it was not."""
    return {f"{kind}.recorded_late": KnownValue(late, known_by=KnownBy.READ)} if late else {}


def _tell_repeats(kind: str, repeats: tuple[PastRepeat, ...]) -> dict[str, KnownValue]:
    """Return what came of doing a run again; nothing where nobody did."""
    told = "; ".join(past.told for past in repeats)
    return {f"{kind}.repeated": KnownValue(told, known_by=KnownBy.READ)} if told else {}


def _decision_values(process: Process) -> dict[str, KnownValue]:
    where = f"entry {process.decision_entry}"
    values = {f"{process.kind}.decision": KnownValue(str(process.decision), where=where)}
    if process.reason:
        values[f"{process.kind}.reason"] = KnownValue(process.reason, where=where)
    return values
