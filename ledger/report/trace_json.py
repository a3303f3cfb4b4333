"""The object that `trace --json` prints."""

from __future__ import annotations

from typing import Annotated, Any, TypedDict

from ledger.model.rig import RigState
from ledger.report.jsonvalues import ValueJson, describe_known, make_value
from ledger.trace.nodes import ChainNode, Setup, TraceResult


class SettingChangeJson(TypedDict):
    """A setting that is not as it was in the run before, of the same inputs."""

    field: Annotated[str, "its key"]
    before: Annotated[Any, "its value there; null where it was not recorded"]
    now: Annotated[Any, "its value here; null where it was not recorded"]


class AmendmentJson(TypedDict):
    """A value that was struck through."""

    field: Annotated[str, "its key"]
    before: Annotated[Any, "what stood there; null where it was blank"]
    entry: Annotated[int, "the entry that amended it"]
    by: Annotated[str, "function of the person who did"]
    reason: Annotated[str, "why"]


class RigStateJson(TypedDict):
    """A rig as it was from one day on."""

    since: Annotated[str, "day of measuring or calibrating, else of entry"]
    entry: Annotated[int, "entry that began it"]
    by: Annotated[str, "function of the person who entered it"]
    changed: Annotated[list[str], "keys that had another value before; empty for the first"]
    values: Annotated[dict[str, ValueJson], "by field key, what was put right later included"]


class SetupJson(TypedDict):
    """The base antenna at one flight of a rig."""

    flight: Annotated[str, "id of the flight"]
    day: Annotated[str, "of take-off, else of entry"]
    readings_m: Annotated[list[float], "height above the mark as it was read, metres"]
    kind: Annotated[str, "vertical or slant; empty where nobody said"]
    vertical_m: Annotated[float | None, "vertical height, computed; null where it cannot be"]


ChainNodeJson = TypedDict(
    "ChainNodeJson",  # in this form, because one key is a word of the language
    {
        "kind": Annotated[str, "file, audit, finding, run, step, flight, rig, or kind of an entry"],
        "id": Annotated[str, "R1, F1, D1; first digits of a file's digest; a finding's id; number"],
        "name": Annotated[str, "its name; for a file its path"],
        "entry": Annotated[int | None, "entry that holds it; null for none"],
        "by": Annotated[str, "function of the person who entered it"],
        "time": Annotated[str, "when it was entered, UTC"],
        "from": Annotated[list[str], "ids of what it comes from"],
        "values": Annotated[dict[str, ValueJson], "what is recorded of it, by field key"],
        "not_recorded": Annotated[list[str], "keys of core fields without a value"],
        "run_before": Annotated[str, "the run before of the same inputs; empty for none"],
        "changes": Annotated[list[SettingChangeJson], "settings that differ from that run"],
        "amended": Annotated[list[AmendmentJson], "values that were struck through since"],
        "states": Annotated[list[RigStateJson], "of a rig: what it was like from day to day"],
        "setups": Annotated[list[SetupJson], "of a rig: the base antenna at each flight"],
    },
)
ChainNodeJson.__doc__ = "One thing in the chain."


class PlaceJson(TypedDict):
    """A path under which the book knows the bytes of the file."""

    path: Annotated[str, "as the book stores it"]
    relation: Annotated[str, "output, registered, audited, input or seen"]
    owner: Annotated[str, "id of the run, flight or deliverable; empty for none"]
    entry: Annotated[int, "the entry that says so"]


class RemedyJson(TypedDict):
    """A command that would record what is missing."""

    command: Annotated[str, "as it is typed"]
    why: Annotated[str, "what it is for"]


class CopyPlaceJson(TypedDict):
    """Another place of a raw file."""

    path: Annotated[str, "the place"]
    of: Annotated[str, "path of the file in the chain"]
    sha256: Annotated[str, "digest of the file"]
    volume: Annotated[str, "id of the volume; empty where it was not noted"]
    time: Annotated[str, "when its bytes were last read there, UTC"]
    verified: Annotated[bool, "read back from its medium, and nothing is wrong since"]
    wrong: Annotated[str, "what a recheck found wrong with it; empty for nothing"]


class TraceJson(TypedDict):
    """What `trace --json` prints."""

    schema: Annotated[int, "1"]
    path: Annotated[str, "the path that was asked about, else recorded; empty for none"]
    sha256: Annotated[str, "digest of the file; empty when the target is no file"]
    places: Annotated[list[PlaceJson], "where the book knows these bytes, the most telling first"]
    known: Annotated[bool, "whether the book knows it"]
    matched_by: Annotated[str, "digest, fingerprint, recorded path, id, or nothing"]
    sentence: Annotated[str, "the answer in one sentence"]
    notes: Annotated[list[str], "what else has to be said of the file"]
    chain: Annotated[list[ChainNodeJson], "from the target back to the capture"]
    onward: Annotated[list[ChainNodeJson], "what was made of it, with --onward"]
    not_recorded: Annotated[list[str], "keys that no record has a value for"]
    copies: Annotated[list[CopyPlaceJson], "other places where the raw files were seen"]
    next: Annotated[list[RemedyJson], "what would record what is missing"]


def make_json(result: TraceResult) -> TraceJson:
    """Return the object that `--json` prints."""
    return {
        "schema": 1,
        "path": result.path,
        "sha256": result.sha256,
        "places": [
            {
                "path": place.path,
                "relation": place.relation,
                "owner": place.owner,
                "entry": place.entry,
            }
            for place in result.places
        ],
        "known": result.known,
        "matched_by": result.matched_by,
        "sentence": result.sentence,
        "notes": list(result.notes),
        "chain": [_describe(node) for node in result.chain],
        "onward": [_describe(node) for node in result.onward],
        "not_recorded": list(result.not_recorded),
        "copies": [
            {
                "path": copy.path,
                "of": copy.of,
                "sha256": copy.sha256,
                "volume": copy.volume,
                "time": copy.time,
                "verified": copy.verified,
                "wrong": copy.wrong,
            }
            for copy in result.backing.copies
        ],
        "next": [{"command": each.command, "why": each.why} for each in result.remedies],
    }


def _describe(node: ChainNode) -> ChainNodeJson:
    return {
        "kind": node.kind,
        "id": node.id,
        "name": node.name,
        "entry": node.entry or None,
        "by": node.by,
        "time": node.time,
        "from": list(node.sources),
        "values": {key: describe_known(key, known) for key, known in node.values.items()},
        "not_recorded": list(node.not_recorded),
        "run_before": node.run_before,
        "changes": [
            {
                "field": change.field,
                "before": change.before and make_value(change.field, change.before.value),
                "now": change.now and make_value(change.field, change.now.value),
            }
            for change in node.changes
        ],
        "amended": [
            {
                "field": each.field,
                "before": each.before and make_value(each.field, each.before.value),
                "entry": each.entry,
                "by": each.by,
                "reason": each.reason,
            }
            for each in node.amended
        ],
        "states": [_describe_state(state) for state in node.states],
        "setups": [_describe_setup(setup) for setup in node.setups],
    }


def _describe_state(state: RigState) -> RigStateJson:
    return {
        "since": state.since,
        "entry": state.entry,
        "by": state.by,
        "changed": list(state.changed),
        "values": {key: describe_known(key, known) for key, known in state.values.items()},
    }


def _describe_setup(setup: Setup) -> SetupJson:
    height = setup.height
    vertical = height.vertical if height is not None else None
    return {
        "flight": setup.flight,
        "day": setup.day,
        "readings_m": [float(reading) for reading in height.readings] if height else [],
        "kind": height.kind if height is not None else "",
        "vertical_m": None if vertical is None else float(vertical),
    }
